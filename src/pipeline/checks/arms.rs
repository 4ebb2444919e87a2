//! Arms of the study, and the arms the protocol speaks of.

use super::{Facts, at_run};
use crate::recording::{Finding, Place, RunKind, suggest};
use std::collections::BTreeSet;

/// Frame runs without an arm beside others that have one, and steps and criteria for an arm that nobody has.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let frames = || {
        let runs = facts.tables.runs.iter();
        runs.filter(|run| run.kind == RunKind::Frame)
    };
    let arms: BTreeSet<&str> = frames().filter_map(|run| run.arm.as_deref()).collect();
    let mut findings = Vec::new();
    if !arms.is_empty() && facts.by_arm {
        for run in frames().filter(|run| run.arm.is_none()) {
            findings.push(at_run(
                Finding::doubt(
                    "arm-missing",
                    "the frame run is in no arm, other frame runs are",
                )
                .help(format!("fill in arm: {}", listed(&arms))),
                run,
                "arm",
            ));
        }
    }
    // Which groups other columns make is known only after the analysis.
    let Some(protocol) = facts.protocol.filter(|_| facts.by_arm) else {
        return findings;
    };
    let criteria = protocol.criteria.iter().map(|criterion| &criterion.arm);
    let steps = protocol.steps.iter().map(|step| &step.arm);
    let asked = criteria.chain(steps).filter_map(Option::as_deref);
    for arm in asked.collect::<BTreeSet<&str>>() {
        if !arms.contains(arm) {
            let help = match suggest(arm, arms.iter().copied()) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!("arms here: {}", listed(&arms)),
            };
            findings.push(
                Finding::doubt(
                    "protocol-arm",
                    format!("the protocol asks about the arm {arm}, but no frame run is in it"),
                )
                .at(Place::file(&protocol.file))
                .help(help),
            );
        }
    }
    findings
}

fn listed(arms: &BTreeSet<&str>) -> String {
    if arms.is_empty() {
        return "none".to_owned();
    }
    arms.iter().copied().collect::<Vec<_>>().join(", ")
}
