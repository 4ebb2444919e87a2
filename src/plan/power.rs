//! How often a protocol will be met: studies of the simulated bench, written, analysed and judged as any study is.

use super::refused;
use crate::bench::{Plan, Scenario, write_study};
use crate::judge::{self, Protocol};
use crate::pipeline;
use crate::recording::{Finding, Outcome, RunKind, RunResult};
use crate::rig::Series;
use crate::stats::clopper_pearson;
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::Path;

/// Most frame runs simulated at once: some hours of work.
pub const MOST_RUNS: usize = 20_000;
/// Confidence of the limits of every share printed.
const CONFIDENCE: f64 = 0.95;

/// What to simulate.
#[derive(Debug, Clone)]
pub struct PowerOrder {
    /// The protocol.
    pub protocol: Protocol,
    /// Only criteria of this arm (and those that name none); all where none is named.
    pub arm: Option<String>,
    /// The bench and its frames.
    pub scenario: Scenario,
    /// Only frames of this construction.
    pub construction: Option<String>,
    /// Frame runs of a study.
    pub frames: usize,
    /// Studies.
    pub studies: usize,
    /// Seed of everything random.
    pub seed: u64,
}

/// How often each criterion was met.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Power {
    /// Scenario.
    pub scenario: String,
    /// Constructions simulated, with their shares.
    pub constructions: BTreeMap<String, f64>,
    /// Frame runs of a study.
    pub frames: usize,
    /// Studies.
    pub studies: usize,
    /// Seed.
    pub seed: u64,
    /// Frame runs of all studies by what the analysis says of them.
    pub outcomes: BTreeMap<&'static str, usize>,
    /// Every criterion.
    pub criteria: Vec<Criterion>,
    /// Confidence of all limits here.
    pub confidence: f64,
    /// What must hold.
    pub assumptions: Vec<&'static str>,
}

/// A criterion over all studies.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Criterion {
    /// Rule.
    pub rule: String,
    /// Arm it names in the protocol.
    pub arm: Option<String>,
    /// What it asks, in a sentence with its quantity, limit and levels.
    pub asked: String,
    /// Studies in which it passed ...
    pub pass: Counted,
    /// ... failed ...
    pub fail: Counted,
    /// ... or could not be told.
    pub undecided: Counted,
    /// Why it was not told, in the first such study.
    pub undecided_because: Option<String>,
}

/// So many of all studies, with exact limits of the share (Clopper & Pearson 1934).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Counted {
    /// Studies.
    pub studies: usize,
    /// Their share.
    pub share: f64,
    /// Lower limit of the share.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

impl Counted {
    fn of(studies: usize, all: usize) -> Self {
        let limits = clopper_pearson(studies as u64, all as u64, CONFIDENCE).ok();
        Self {
            studies,
            share: studies as f64 / all as f64,
            lower: limits.map(|l| l.lower),
            upper: limits.map(|l| l.upper),
        }
    }
}

/// What one study says: outcomes of its frame runs, and verdict with reason for each criterion.
type Said = (Vec<Outcome>, Vec<(String, String)>);

/// Simulates, analyses and judges every study, each in a folder of its own below `scratch` that goes when it is done. `progress` is told
/// after every study: done, of how many. The result does not depend on the number of threads.
///
/// # Errors
/// Error findings where nothing can be simulated as asked, or a study cannot be written or analysed at all.
pub fn power(
    order: PowerOrder,
    scratch: &Path,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Power, Vec<Finding>> {
    let order = settled(order).map_err(|finding| vec![finding])?;
    let done = std::sync::atomic::AtomicUsize::new(0);
    let one = |number: usize| {
        let plan = order.scenario.plan(order.seed, number);
        let said = one_study(&order.protocol, &plan, scratch);
        let done = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
        progress(done, order.studies);
        said
    };
    let said: Result<Vec<Said>, Vec<Finding>> = (0..order.studies)
        .into_par_iter()
        .with_max_len(1)
        .map(one)
        .collect();
    Ok(counted(&order, &said?))
}

/// The order with the scenario and the criteria as they will be used.
fn settled(mut order: PowerOrder) -> Result<PowerOrder, Finding> {
    let runs = order.frames.saturating_mul(order.studies);
    if runs == 0 || runs > MOST_RUNS {
        return Err(refused(
            "plan-power",
            format!(
                "found {} studies of {} frames; expected at least one of each and at most {MOST_RUNS} frame runs in all",
                order.studies, order.frames
            ),
            "some hundred studies tell a share to a few hundredths",
        ));
    }
    if let Some(wanted) = &order.construction {
        let all: Vec<String> = order
            .scenario
            .frames
            .iter()
            .map(|f| f.construction.clone())
            .collect();
        order.scenario.frames.retain(|f| f.construction == *wanted);
        if order.scenario.frames.is_empty() {
            return Err(refused(
                "plan-power",
                format!(
                    "found no frames of construction \"{wanted}\" in the scenario; expected one of {}",
                    all.join(", ")
                ),
                "describe your own frames in a scenario file",
            ));
        }
    }
    if let Some(wanted) = &order.arm {
        let all: Vec<String> = order
            .protocol
            .criteria
            .iter()
            .filter_map(|c| c.arm.clone())
            .collect();
        if !all.contains(wanted) {
            return Err(refused(
                "plan-power",
                format!(
                    "found no criterion of arm \"{wanted}\" in {}; expected one of {}",
                    order.protocol.file,
                    all.join(", ")
                ),
                "leave --arm out to judge every criterion",
            ));
        }
        order
            .protocol
            .criteria
            .retain(|c| c.arm.as_ref().is_none_or(|arm| arm == wanted));
    }
    order.scenario.runs_in_study = order.frames;
    match order.scenario.fault() {
        None => Ok(order),
        Some(fault) => Err(refused(
            "scenario-unusable",
            format!("this cannot be simulated: {fault}"),
            "look at src/bench/scenario.rs for what each key may be",
        )),
    }
}

fn one_study(protocol: &Protocol, plan: &Plan, scratch: &Path) -> Result<Said, Vec<Finding>> {
    let cannot_write = |error: std::io::Error| {
        vec![Finding::error(
            "cannot-write",
            format!("{}: {error}", scratch.display()),
        )]
    };
    let folder = tempfile::tempdir_in(scratch).map_err(cannot_write)?;
    write_study(plan, folder.path()).map_err(cannot_write)?;
    let study = pipeline::open_study(folder.path())?;
    let mut analysed =
        pipeline::analyse(&study, &pipeline::Options::default(), &|_, _| {})?.analysis;
    judge::keep_steps(&of_every_arm(protocol), &mut analysed.runs, study.series());
    let verdicts = protocol.criteria.iter().map(|criterion| {
        // All frames make one arm, whatever arm the protocol names.
        let alone = Protocol {
            criteria: vec![judge::Criterion {
                arm: None,
                ..criterion.clone()
            }],
            ..protocol.clone()
        };
        let verdict = judge::verdicts(&alone, &analysed.runs, &Series::default(), &analysed.groups);
        let first = verdict.into_iter().next();
        first.map_or_else(
            || ("undecided".to_owned(), "no verdict".to_owned()),
            |v| (v.verdict, v.reason),
        )
    });
    let verdicts = verdicts.collect();
    let frames = analysed
        .runs
        .iter()
        .filter(|run| run.kind == RunKind::Frame);
    Ok((
        frames.map(|run: &RunResult| run.outcome).collect(),
        verdicts,
    ))
}

/// The protocol with its steps asked of every run.
fn of_every_arm(protocol: &Protocol) -> Protocol {
    let steps = protocol.steps.iter().map(|step| judge::AskedStep {
        arm: None,
        ..step.clone()
    });
    Protocol {
        steps: steps.collect(),
        ..protocol.clone()
    }
}

fn counted(order: &PowerOrder, said: &[Said]) -> Power {
    let mut outcomes = BTreeMap::new();
    for outcome in said.iter().flat_map(|(outcomes, _)| outcomes) {
        *outcomes.entry(outcome.word()).or_default() += 1;
    }
    let criteria = order
        .protocol
        .criteria
        .iter()
        .enumerate()
        .map(|(at, criterion)| {
            let all = || said.iter().filter_map(|(_, verdicts)| verdicts.get(at));
            let count =
                |word: &str| Counted::of(all().filter(|v| v.0 == word).count(), order.studies);
            Criterion {
                rule: criterion.rule.name().to_owned(),
                arm: criterion.arm.clone(),
                asked: criterion.asks(),
                pass: count("pass"),
                fail: count("fail"),
                undecided: count("undecided"),
                undecided_because: all().find(|v| v.0 == "undecided").map(|v| v.1.clone()),
            }
        });
    let whole: f64 = order.scenario.frames.iter().map(|f| f.share).sum();
    let mut constructions = BTreeMap::new();
    for frame in order.scenario.frames.iter().filter(|f| f.share > 0.0) {
        *constructions.entry(frame.construction.clone()).or_default() += frame.share / whole;
    }
    Power {
        scenario: order.scenario.name.clone(),
        constructions,
        frames: order.frames,
        studies: order.studies,
        seed: order.seed,
        outcomes,
        criteria: criteria.collect(),
        confidence: CONFIDENCE,
        assumptions: vec![
            "studies of the simulated bench, each drawn from the scenario, written as files and analysed as any study is; frames break as the scenario says, which is an assumption until your own frames have shown it",
            "all simulated frames make one arm: every criterion is judged on all of them, whatever arm it names",
            "settings of the analysis at their defaults",
        ],
    }
}
