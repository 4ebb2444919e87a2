//! Diameters before and after, without which no set, recoil or gain of area can be given.

use super::{Facts, at_run};
use crate::recording::{Finding, RunKind, Shows, Stage};
use std::collections::BTreeSet;

/// Frame runs without a reading or outline of a stage.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let tables = facts.tables;
    let read = tables.calipers.iter().map(|c| (c.run_id.as_str(), c.stage));
    let drawn = tables.contours.iter().map(|c| (c.run_id.as_str(), c.stage));
    let taken = tables
        .photographs
        .iter()
        .filter(|photograph| photograph.used && photograph.shows == Shows::Ring)
        .map(|photograph| (photograph.run_id.as_str(), photograph.stage));
    let measured: BTreeSet<(&str, Stage)> = read.chain(drawn).chain(taken).collect();
    let mut findings = Vec::new();
    for run in tables.runs.iter().filter(|run| run.kind == RunKind::Frame) {
        for (stage, word, lost) in [
            (Stage::Before, "before", "set and gain of area are missing"),
            (
                Stage::After,
                "after",
                "set, recoil and gain of area are missing",
            ),
        ] {
            if !measured.contains(&(run.run_id.as_str(), stage)) {
                findings.push(at_run(
                    Finding::doubt(
                        &format!("no-diameter-{word}"),
                        format!("no reading and no outline {word} the run: {lost}"),
                    )
                    .help(format!(
                        "add rows of stage {word} to calipers.csv or contours.csv"
                    )),
                    run,
                    "run_id",
                ));
            }
        }
    }
    findings
}
