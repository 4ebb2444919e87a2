//! Frames and balloons that no run uses, and frames that several do.

use super::{Facts, at_run};
use crate::recording::{Finding, RunKind, RunRow};
use std::collections::{BTreeMap, BTreeSet};

/// Items of the tables against the runs.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    let runs = &facts.tables.runs;
    let frames = facts.tables.frames.iter().map(|frame| &frame.frame_id);
    let balloons = facts.tables.balloons.iter().map(|b| &b.balloon_id);
    let of_run: [fn(&RunRow) -> &Option<String>; 2] = [|run| &run.frame_id, |run| &run.balloon_id];
    for (what, ids, id_of) in [
        ("frame", frames.collect::<Vec<_>>(), of_run[0]),
        ("balloon", balloons.collect(), of_run[1]),
    ] {
        let used: BTreeSet<&String> = runs.iter().filter_map(|run| id_of(run).as_ref()).collect();
        for id in ids.into_iter().filter(|id| !used.contains(id)) {
            findings.push(
                Finding::note(
                    &format!("{what}-unused"),
                    format!("the {what} {id} is listed, but no run uses it"),
                )
                .at(facts.table(&format!("{what}s")))
                .help("a run may be missing from runs.csv, or name another by mistake"),
            );
        }
    }
    let mut first: BTreeMap<&String, &RunRow> = BTreeMap::new();
    for run in runs.iter().filter(|run| run.kind == RunKind::Frame) {
        let Some(id) = &run.frame_id else { continue };
        if let Some(before) = first.get(id) {
            findings.push(at_run(
                Finding::note(
                    "frame-again",
                    format!("the frame {id} was dilated before, in run {}: it is no new frame", before.run_id),
                )
                .help("correct frame_id if this is a mistake; statistics of an arm count the frame once a run"),
                run,
                "frame_id",
            ));
        } else {
            first.insert(id, run);
        }
    }
    findings
}
