//! Observations that criteria ask for and no run has: a name in another spelling, another stage, or a column nobody filled in.

use super::protocol::Protocol;
use super::quantity::{Target, plain};
use super::words::names;
use crate::recording::{Finding, RunResult, Stage, suggest};
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
