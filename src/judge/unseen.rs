//! What a protocol asks about and no run has. Observations: a name in another spelling, another stage, or a column nobody filled in. Arms: a
//! group of another name, of which a step would hold for nobody and still look kept.

use super::protocol::Protocol;
use super::quantity::{Target, plain};
use super::words::names;
use crate::recording::{Finding, RunKind, RunResult, Stage, suggest};
use crate::rig::Series;
use std::collections::{BTreeMap, BTreeSet};

/// Stages at which each observation was made, by its plain name.
type Seen = BTreeMap<String, BTreeSet<&'static str>>;

/// A finding for each criterion about an observation that no run of the study has: an error where one of another spelling is there, else a
/// doubt, since what was not looked at may still be.
pub fn unseen_observations(protocol: &Protocol, runs: &[RunResult]) -> Vec<Finding> {
    let mut seen = Seen::new();
    for row in runs.iter().flat_map(|run| &run.observations) {
        let stages = seen.entry(plain(&row.name)).or_default();
        stages.insert(row.stage.map_or("no stage", Stage::word));
    }
    let asked = protocol.criteria.iter().filter_map(|criterion| {
        let Some(Target::Seen { name, stage }) = &criterion.asked.target else {
            return None;
        };
        let finding = match (seen.get(name), stage) {
            (None, _) => Some(unknown(name, &seen)),
            (Some(stages), Some(stage)) => elsewhere(name, *stage, stages),
            (Some(_), None) => None,
        };
        finding.map(|finding| finding.at(criterion.at.clone()))
    });
    asked.collect()
}

/// No run has it by this name.
fn unknown(name: &str, seen: &Seen) -> Finding {
    let known = || seen.keys().map(String::as_str);
    let message = format!(
        "found a criterion about the observation \"{name}\", which no run has; expected {}",
        if seen.is_empty() {
            "observations.csv to hold it, which holds none".to_owned()
        } else {
            format!("one of {}", names(known()))
        }
    );
    match suggest(name, known()) {
        Some(near) => Finding::error("protocol-observation", message)
            .help(format!("did you mean \"{near}\"?")),
        None => Finding::doubt("protocol-observation", message)
            .help("check its spelling in the protocol and in observations.csv; without it the criterion stays undecided"),
    }
}

/// Runs have it, but none at the stage asked for.
fn elsewhere(name: &str, stage: Stage, stages: &BTreeSet<&'static str>) -> Option<Finding> {
    let word = stage.word();
    if stages.contains(word) {
        return None;
    }
    let message = format!(
        "found a criterion about the observation \"{name}\" at the stage \"{word}\", at which no run has it; expected one of the stages it was made at: {}",
        names(stages.iter().copied())
    );
    Some(Finding::doubt("protocol-observation", message).help(
        "check the stage in the protocol and in observations.csv; without it the criterion stays undecided",
    ))
}

/// A doubt for each step and criterion about an arm that no frame run is in: a step of no run is kept by none.
pub fn unseen_arms(protocol: &Protocol, runs: &[RunResult], series: &Series) -> Vec<Finding> {
    let frames: Vec<&RunResult> = runs
        .iter()
        .filter(|run| run.kind == RunKind::Frame)
        .collect();
    let groups: BTreeSet<String> = series.group_by.names(&frames).into_iter().collect();
    let known = || groups.iter().map(String::as_str);
    let steps = protocol.steps.iter().map(|step| {
        let name = format!("step `{}`", step.step.name());
        (name, &step.arm, &step.at, "no run was set against it")
    });
    let criteria = protocol.criteria.iter().map(|criterion| {
        let name = format!("criterion `{}`", criterion.rule.name());
        (name, &criterion.arm, &criterion.at, "it stays undecided")
    });
    steps
        .chain(criteria)
        .filter_map(|(name, arm, at, so)| {
            let arm = arm.as_deref().filter(|arm| !groups.contains(*arm))?;
            let message = format!(
                "found a {name} for the arm \"{arm}\", which no frame run is in, so {so}; expected {}",
                if groups.is_empty() {
                    "a frame run, of which there is none".to_owned()
                } else {
                    format!("one of {}", names(known()))
                }
            );
            let help = match suggest(arm, known()) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => "check the arm in the protocol, and what runs are grouped by in study.toml".to_owned(),
            };
            Some(Finding::doubt("protocol-arm", message).at(at.clone()).help(help))
        })
        .collect()
}
