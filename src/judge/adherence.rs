//! How far runs kept the steps of a protocol.

use super::protocol::{AskedStep, Protocol};
use super::sample::samples;
use super::steps::Found;
use crate::recording::{GroupAdherence, RunKind, RunResult, StepResult, StepVerdict};
use crate::rig::Series;
use crate::uncertain::Quantity;

/// Sets every step against every frame run of the group it names, or of every group; the outcome stands in `adherence` of the run.
pub fn keep_steps(protocol: &Protocol, runs: &mut [RunResult], series: &Series) {
    let is_frame = |run: &RunResult| run.kind == RunKind::Frame;
    let frames: Vec<&RunResult> = runs.iter().filter(|run| is_frame(run)).collect();
    let groups = series.group_by.names(&frames);
    for (run, group) in runs.iter_mut().filter(|run| is_frame(run)).zip(groups) {
        let steps = protocol.steps.iter().zip(1..);
        run.adherence = steps
            .filter(|(step, _)| step.arm.as_ref().is_none_or(|asked| *asked == group))
            .map(|(step, number)| set_against(step, number, run))
            .collect();
    }
}

fn set_against(step: &AskedStep, number: usize, run: &RunResult) -> StepResult {
    let mut result = StepResult {
        step: step.step.name().to_owned(),
        number,
        asked: step.step.asks(&step.asked),
        found: Quantity::missing("1", "not known"),
        deviation: None,
        when_s: None,
        verdict: StepVerdict::NotKnown,
        reason: String::new(),
    };
    match step.step.look(&step.asked, run) {
        Ok(found) => {
            result.deviation = found.deviation();
            result.verdict = match result.deviation {
                Some(_) => StepVerdict::Deviated,
                None => StepVerdict::Kept,
            };
            let Found {
                quantity,
                when_s,
                reason,
                ..
            } = found;
            (result.found, result.when_s, result.reason) = (quantity, when_s, reason);
        }
        Err(why) => {
            result.found = Quantity::missing("1", why.clone());
            result.reason = why;
        }
    }
    result
}

/// How the runs of each group kept the protocol; empty without steps.
pub fn group_adherence(
    protocol: &Protocol,
    runs: &[RunResult],
    series: &Series,
) -> Vec<GroupAdherence> {
    if protocol.steps.is_empty() {
        return Vec::new();
    }
    let has = |run: &RunResult, verdict| run.adherence.iter().any(|step| step.verdict == verdict);
    samples(runs, series)
        .iter()
        .map(|sample| {
            let named = |is: &dyn Fn(&RunResult) -> bool| -> Vec<String> {
                let those = sample.runs.iter().filter(|run| is(run));
                those.map(|run| run.run_id.clone()).collect()
            };
            let deviated = named(&|run| has(run, StepVerdict::Deviated));
            let not_known =
                named(&|run| has(run, StepVerdict::NotKnown) && !has(run, StepVerdict::Deviated));
            GroupAdherence {
                group: sample.name.clone(),
                n: sample.runs.len(),
                kept_all: sample.runs.len() - deviated.len() - not_known.len(),
                deviated,
                not_known,
            }
        })
        .collect()
}
