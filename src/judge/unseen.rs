//! Observations that criteria ask for and no run has: a name in another spelling, or a column nobody filled in.

use super::protocol::Protocol;
use super::quantity::{Target, plain};
use super::words::names;
use crate::recording::{Finding, RunResult, suggest};
use std::collections::BTreeSet;

/// A finding for each criterion about an observation that no run of the study has: an error where one of another spelling is there, else a
/// doubt, since what was not looked at may still be.
pub fn unseen_observations(protocol: &Protocol, runs: &[RunResult]) -> Vec<Finding> {
    let observed = runs.iter().flat_map(|run| &run.observations);
    let seen: BTreeSet<String> = observed.map(|o| plain(&o.name)).collect();
    let known = || seen.iter().map(String::as_str);
    let asked = protocol.criteria.iter().filter_map(|criterion| {
        let Some(Target::Seen { name, .. }) = &criterion.asked.target else {
            return None;
        };
        Some((criterion, name)).filter(|(_, name)| !seen.contains(*name))
    });
    asked
        .map(|(criterion, name)| {
            let message = format!(
                "found a criterion about the observation \"{name}\", which no run has; expected {}",
                if seen.is_empty() {
                    "observations.csv to hold it, which holds none".to_owned()
                } else {
                    format!("one of {}", names(known()))
                }
            );
            let finding = match suggest(name, known()) {
                Some(near) => Finding::error("protocol-observation", message)
                    .help(format!("did you mean \"{near}\"?")),
                None => Finding::doubt("protocol-observation", message)
                    .help("check its spelling in the protocol and in observations.csv; without it the criterion stays undecided"),
            };
            finding.at(criterion.at.clone())
        })
        .collect()
}
