//! Sizes of the frames in use.

use super::Facts;
use crate::recording::{Finding, RunKind};
use std::collections::BTreeSet;

/// A label size stands where a true inner diameter is missing: a name is no length.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let runs = facts.tables.runs.iter();
    let used: BTreeSet<&String> = runs
        .filter(|run| run.kind == RunKind::Frame)
        .filter_map(|run| run.frame_id.as_ref())
        .collect();
    facts
        .tables
        .frames
        .iter()
        .filter(|frame| frame.label_size_mm.is_some() && frame.true_id_mm.is_none())
        .filter(|frame| used.contains(&frame.frame_id))
        .map(|frame| {
            Finding::doubt(
                "true-id-missing",
                format!(
                    "the frame {} has a label size but no true inner diameter: a label is no length, so no oversize can be given",
                    frame.frame_id
                ),
            )
            .at(facts.table("frames"))
            .help("fill in true_id_mm: the largest plug that passes the new frame")
        })
        .collect()
}
