//! Dilation without an inner valve in the ring against dilation with one.

use super::{How, between, paired};
use crate::judge::sample::{Sample, counted};
use crate::judge::values::VALUES;
use crate::recording::{Comparison, RunResult};
use std::collections::{BTreeMap, BTreeSet};

const WITHOUT: &str = "no inner valve";
const WITH: &str = "inner valve";

/// Where frames were dilated both ways, each against itself; else the frames without an inner valve against those with one. Empty where the
/// groups of the study are those anyway, or nothing was dilated both ways.
pub(super) fn compare(runs: &[RunResult], how: How<'_>) -> Vec<Comparison> {
    if how.series.group_by.has("inner_valve") {
        return Vec::new();
    }
    let (without, with): (Vec<&RunResult>, Vec<&RunResult>) = counted(runs)
        .into_iter()
        .partition(|run| run.inner_valve.is_none());
    if without.is_empty() || with.is_empty() {
        return Vec::new();
    }
    let frames = |runs: &[&RunResult]| -> BTreeSet<String> {
        runs.iter().filter_map(|run| run.frame_id.clone()).collect()
    };
    let both: BTreeSet<String> = frames(&without)
        .intersection(&frames(&with))
        .cloned()
        .collect();
    if both.is_empty() {
        let definition = how.series.definition;
        return between(
            &[
                Sample::new(WITHOUT, definition, without),
                Sample::new(WITH, definition, with),
            ],
            how,
        );
    }
    VALUES
        .iter()
        .flat_map(|value| {
            let of = |runs: &[&RunResult]| -> BTreeMap<String, f64> {
                // Of several runs of a frame in one state the first: the frame was no longer itself in the later ones.
                let mut first = BTreeMap::new();
                for run in runs {
                    if let Some((frame, found)) = run.frame_id.clone().zip(value.at(run)) {
                        first.entry(frame).or_insert(found);
                    }
                }
                first
            };
            let (a, b) = (of(&without), of(&with));
            let pairs = both
                .iter()
                .filter_map(|id| Some((*a.get(id)?, *b.get(id)?)));
            let (first, second): (Vec<f64>, Vec<f64>) = pairs.unzip();
            let unit = value.unit(&without);
            paired::compare(value.name, &unit, &[WITHOUT, WITH], &first, &second, how)
        })
        .collect()
}
