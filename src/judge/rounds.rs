//! Readings of a gauge as rounds: what one operator gets in one go round the frame.
//!
//! The number that is used of a caliper is the mean over orientations, so the mean of a round is what must repeat, and orientations
//! are averaged within a round. As parts of their own they would not be independent of each other, and what a ring is out of round would
//! pass for a difference of parts.

use crate::recording::{CaliperRow, GaugeMethod, Stage};
use std::collections::{BTreeMap, BTreeSet};

/// A part: a run at a stage.
pub(super) type Part = (String, Stage);

/// Rounds of every operator on every part, mm.
pub(super) struct Rounds {
    /// By part and operator, in the order of their names.
    pub cells: BTreeMap<Part, BTreeMap<String, Vec<f64>>>,
    /// Orientations of a round, tenths of a degree, by part and operator; `None` where not recorded.
    pub orientations: BTreeMap<Part, BTreeMap<String, BTreeSet<Option<i64>>>>,
    /// Readings that make no whole round.
    pub left_over: usize,
    /// Parts with a reading that stands off from the others: a slip of the pen is no scatter of the gauge, so they are not among the cells.
    pub slipped: BTreeSet<Part>,
}

/// Rounds of a method. The n-th reading of an operator at an orientation, by the number of its repeat and then its line, belongs to the
/// n-th round; a round lacking an orientation that others of the operator have is no round.
pub(super) fn rounds(readings: &[CaliperRow], method: GaugeMethod) -> Rounds {
    type Angles<'a> = BTreeMap<Option<i64>, Vec<&'a CaliperRow>>;
    let mut sorted: BTreeMap<Part, BTreeMap<String, Angles<'_>>> = BTreeMap::new();
    let usable = |row: &&CaliperRow| {
        row.method == method && row.value_mm.is_finite() && row.operator.is_some()
    };
    for row in readings.iter().filter(usable) {
        // A two-point diameter at 200° is the one at 20°.
        let angle = row
            .orientation_deg
            .filter(|angle| angle.is_finite())
            .map(|angle| (angle.rem_euclid(180.0) * 10.0).round() as i64 % 1800);
        sorted
            .entry((row.run_id.clone(), row.stage))
            .or_default()
            .entry(row.operator.clone().unwrap_or_default())
            .or_default()
            .entry(angle)
            .or_default()
            .push(row);
    }
    let mut made = Rounds {
        cells: BTreeMap::new(),
        orientations: BTreeMap::new(),
        left_over: 0,
        slipped: readings
            .iter()
            .filter(usable)
            .filter(|row| row.stands_off)
            .map(|row| (row.run_id.clone(), row.stage))
            .collect(),
    };
    for (part, operators) in sorted {
        if made.slipped.contains(&part) {
            continue;
        }
        for (operator, mut angles) in operators {
            for rows in angles.values_mut() {
                rows.sort_by_key(|row| (row.repeat, row.line));
            }
            let whole = angles.values().map(Vec::len).min().unwrap_or(0);
            made.left_over += angles
                .values()
                .map(|rows| rows.len() - whole)
                .sum::<usize>();
            let count = angles.len() as f64;
            let means = (0..whole).map(|at| {
                let round = angles.values().filter_map(|rows| rows.get(at));
                round.map(|row| row.value_mm).sum::<f64>() / count
            });
            let cells = made.cells.entry(part.clone()).or_default();
            cells.insert(operator.clone(), means.collect());
            let seen = made.orientations.entry(part.clone()).or_default();
            seen.insert(operator, angles.into_keys().collect());
        }
    }
    made
}
