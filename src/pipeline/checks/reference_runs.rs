//! Blank and free runs: without them a pressure stands, but the frame's share of it does not.

use super::{Facts, at_run};
use crate::recording::{Finding, Place, RunKind, suggest};
use std::collections::BTreeSet;

/// Blank runs missing, free runs of a balloon missing, and blank runs of the rig that are none.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let runs = &facts.tables.runs;
    let mut findings = Vec::new();
    let of_kind = |kind| runs.iter().filter(move |run| run.kind == kind);
    if of_kind(RunKind::Blank).next().is_none() && runs.iter().any(|r| r.kind != RunKind::Blank) {
        findings.push(
            Finding::doubt(
                "no-blank-run",
                "the study has no blank run: what the line takes up is not known, nor how large a fall should be",
            )
            .at(facts.table("runs"))
            .help("record a run with a plug in place of the balloon, and list it with kind blank"),
        );
    }
    let free: BTreeSet<&String> = of_kind(RunKind::Free)
        .filter_map(|run| run.balloon_id.as_ref())
        .collect();
    for run in of_kind(RunKind::Frame) {
        match &run.balloon_id {
            None => findings.push(at_run(
                Finding::doubt(
                    "balloon-not-named",
                    "the frame run names no balloon: no free run can be set against it",
                )
                .help("fill in balloon_id"),
                run,
                "balloon_id",
            )),
            Some(id) if !free.contains(id) => {
                findings.push(at_run(
                    Finding::doubt(
                        "no-free-run",
                        format!("no free run of the balloon {id}: what it takes without a frame is not measured, so the load on the frame is missing or rests on the maker's chart"),
                    )
                    .help("record the balloon without a frame, and list it with kind free"),
                    run,
                    "balloon_id",
                ));
            }
            Some(_) => {}
        }
    }
    for name in &facts.rig.blank_runs {
        let listed = runs.iter().find(|run| run.run_id == *name);
        let finding = match listed {
            Some(run) if run.kind == RunKind::Blank => continue,
            Some(run) => Finding::doubt(
                "blank-run-of-other-kind",
                format!(
                    "the rig counts {name} among its blank runs, but runs.csv lists it otherwise"
                ),
            )
            .run(&run.run_id)
            .help("correct kind in runs.csv, or blank_runs in the rig"),
            None => Finding::doubt(
                "blank-run-not-listed",
                format!("the rig counts {name} among its blank runs, but no run has this name"),
            )
            .help(
                suggest(name, runs.iter().map(|run| run.run_id.as_str())).map_or_else(
                    || "list it, or take it out of blank_runs".to_owned(),
                    |near| format!("did you mean \"{near}\"?"),
                ),
            ),
        };
        findings.push(finding.at(Place::file(&facts.rig.file)));
    }
    findings
}
