//! Free runs that ended in a burst: detect it, and keep what lies after it out of the balloon's curves.

use super::{Attempt, Study};
use crate::balloon::LineModel;
use crate::detect::detect;
use crate::judge::{FrameState, judge_run};
use crate::recording::{EventKind, Finding, Grade, Inspection, Place, RunResult, RunRow};
use crate::segment::Rest;

/// Adds the burst of a free run to its result, with what speaks for and against it.
pub(super) fn find(
    study: &Study,
    run: &RunRow,
    attempt: &Attempt,
    line: Option<&LineModel>,
    result: &mut RunResult,
) {
    let Some(prepared) = &attempt.prepared else {
        return;
    };
    let settings = study.settings();
    let (mut events, smallest) = detect(
        &prepared.trace,
        &prepared.phases,
        &prepared.motion,
        line,
        settings,
    );
    result.recording.smallest_drop_kpa = smallest;
    // Without a frame there is nothing to fracture, to yield or to slip out of.
    events.retain(|event| event.kind == EventKind::Burst);
    let judged = judge_run(
        events,
        run.inspection,
        FrameState::Unknown,
        false,
        prepared.trace.step_s,
        settings,
    );
    result.events = judged.events;
    result.events.retain(|event| event.kind == EventKind::Burst);
    let mut findings = judged.findings;
    // Of a frame "intact" says nothing on the balloon; without a frame it is the balloon that was found whole.
    if run.inspection == Some(Inspection::Intact) && !result.events.is_empty() {
        for event in &mut result.events {
            event.grade = Grade::Disagree;
        }
        findings.push(
            Finding::doubt(
                "burst-disagrees",
                "the recording shows a burst, but the balloon was found intact; the inspection stands",
            )
            .at(Place::line(&run.file, run.line))
            .help("look at the balloon again, or at the recording for a line that came off"),
        );
    }
    let findings = findings.into_iter();
    result.findings.extend(findings.map(|f| f.run(&run.run_id)));
}

/// The rests before a burst: afterwards a balloon has no curve.
pub(super) fn whole<'r>(rests: &'r [Rest], result: &RunResult) -> &'r [Rest] {
    let burst = result.events.iter().filter_map(|event| event.t_s);
    let at = burst.fold(f64::INFINITY, f64::min);
    &rests[..rests.partition_point(|rest| rest.t_s < at)]
}
