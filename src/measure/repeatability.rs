//! How well a hand repeats itself with a caliper, over a whole study.

use super::scatter::cells;
use crate::recording::{CaliperRow, GaugeMethod, Stage};
use std::collections::BTreeMap;

/// Standard deviation of readings by one hand at one place, pooled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeatability {
    /// Standard deviation of one reading, mm.
    pub sd_mm: f64,
    /// Its degrees of freedom.
    pub dof: f64,
}

/// Repeatability of a method over all runs and stages: sums of squares within hand, place and stage over their degrees of freedom (pooled
/// estimate, JCGM 100, 4.2.4). A few repeats of one run tell little of it; those of a study much. Readings that stand off (`slip.rs`) are
/// left out: one slip says nothing of how hands repeat themselves. `None` where nothing was repeated.
pub fn repeatability(rows: &[CaliperRow], method: GaugeMethod) -> Option<Repeatability> {
    let mut rings: BTreeMap<(&str, Stage), Vec<&CaliperRow>> = BTreeMap::new();
    let counts = |row: &&CaliperRow| row.method == method && row.usable() && !row.stands_off;
    for row in rows.iter().filter(counts) {
        rings.entry((&row.run_id, row.stage)).or_default().push(row);
    }
    let (sum, dof) = rings
        .values()
        .map(|rows| super::scatter::within(&cells(rows)))
        .fold((0.0, 0.0), |(sum, dof), (s, d)| (sum + s, dof + d));
    (dof >= 1.0).then(|| Repeatability {
        sd_mm: (sum / dof).sqrt(),
        dof,
    })
}
