//! Dilation without an inner valve in the ring against dilation with one.

use super::{How, between, paired};
use crate::judge::sample::{Sample, counted};
use crate::judge::values::{FRAME_VALUES, VALUES, Value};
use crate::judge::words::names;
use crate::recording::{Comparison, RunResult};
use crate::rig::Series;
use std::collections::{BTreeMap, BTreeSet};

const WITHOUT: &str = "no inner valve";
const WITH: &str = "inner valve";

/// Runs without and with an inner valve.
struct Halves<'a> {
    without: Vec<&'a RunResult>,
    with: Vec<&'a RunResult>,
    /// Frames dilated both ways.
    both: BTreeSet<&'a str>,
}

impl<'a> Halves<'a> {
    /// `None` where the groups of the study are these anyway, or one of them is empty.
    fn of(runs: &'a [RunResult], series: &Series) -> Option<Self> {
        if series.group_by.has("inner_valve") {
            return None;
        }
        let (without, with): (Vec<&RunResult>, Vec<&RunResult>) = counted(runs)
            .into_iter()
            .partition(|run| run.inner_valve.is_none());
        let frames = |runs: &[&'a RunResult]| -> BTreeSet<&'a str> {
            runs.iter()
                .filter_map(|run| run.frame_id.as_deref())
                .collect()
        };
        let both = frames(&without)
            .intersection(&frames(&with))
            .copied()
            .collect();
        (!without.is_empty() && !with.is_empty()).then_some(Self {
            without,
            with,
            both,
        })
    }

    /// The frames dilated one way only, as two samples; `None` where there are none of one kind.
    fn apart(&self, series: &Series) -> Option<[Sample<'a>; 2]> {
        let one_way = |run: &&&RunResult| {
            let id = run.frame_id.as_deref();
            !id.is_some_and(|id| self.both.contains(id))
        };
        let sample = |name, runs: &[&'a RunResult]| {
            let runs: Vec<&RunResult> = runs.iter().filter(one_way).copied().collect();
            (!runs.is_empty()).then(|| Sample::new(name, series.definition, runs))
        };
        Some([sample(WITHOUT, &self.without)?, sample(WITH, &self.with)?])
    }
}

/// The samples that [`compare`] takes side by side: what differs within one of them is told as within any group.
pub(in crate::judge) fn samples<'a>(runs: &'a [RunResult], series: &Series) -> Vec<Sample<'a>> {
    let apart = Halves::of(runs, series).and_then(|halves| halves.apart(series));
    apart.map_or_else(Vec::new, Vec::from)
}

/// Frames that were dilated both ways, each against itself, and those without an inner valve against those with one.
pub(super) fn compare(runs: &[RunResult], how: How<'_>) -> Vec<Comparison> {
    let Some(halves) = Halves::of(runs, how.series) else {
        return Vec::new();
    };
    let mut pairs: Vec<Comparison> = if halves.both.is_empty() {
        Vec::new()
    } else {
        let values = VALUES.iter().chain(FRAME_VALUES);
        values
            .flat_map(|value| of_pairs(&halves, value, how))
            .collect()
    };
    if let Some(broken) = broken_before(runs, &halves) {
        for pair in &mut pairs {
            pair.method.push_str(&broken);
        }
    }
    let apart = halves.apart(how.series);
    let apart = apart.map_or_else(Vec::new, |samples| between(&samples, how));
    [pairs, apart].concat()
}

/// Which of the frames dilated both ways came broken to the second state, by the order of the runs table: what such a pair differs by is the break
/// as much as the inner valve.
fn broken_before(runs: &[RunResult], halves: &Halves<'_>) -> Option<String> {
    let broken = halves.both.iter().filter_map(|frame| {
        let of_frame = |run: &&&RunResult| run.frame_id.as_deref() == Some(*frame);
        let mut pair = [&halves.without, &halves.with]
            .into_iter()
            .filter_map(|half| half.iter().find(of_frame));
        let earlier = pair.find_map(|run| run.broken_before(runs))?;
        Some(format!("{frame} in run {}", earlier.run_id))
    });
    let broken: Vec<String> = broken.collect();
    (!broken.is_empty()).then(|| {
        format!(
            "; {} of the {} frames dilated both ways had broken before the second of the two ({}): their difference is that of the break too",
            broken.len(),
            halves.both.len(),
            names(broken.iter().map(String::as_str))
        )
    })
}

/// Frames dilated both ways. Of several runs of a frame in one state the first: the frame was no longer itself in the later ones.
fn of_pairs(halves: &Halves<'_>, value: &Value, how: How<'_>) -> Vec<Comparison> {
    let of = |runs: &[&RunResult]| -> BTreeMap<String, f64> {
        let mut first = BTreeMap::new();
        for run in runs {
            if let Some((frame, found)) = run.frame_id.clone().zip(value.at(run)) {
                first.entry(frame).or_insert(found);
            }
        }
        first
    };
    let (a, b) = (of(&halves.without), of(&halves.with));
    let pairs = halves
        .both
        .iter()
        .filter_map(|id| Some((*a.get(*id)?, *b.get(*id)?)));
    let (first, second): (Vec<f64>, Vec<f64>) = pairs.unzip();
    let unit = value.unit(&halves.without);
    paired::compare(value.name, &unit, &[WITHOUT, WITH], &first, &second, how)
}
