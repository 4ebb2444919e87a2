//! What a caliper reading is worth.

use super::Facts;
use crate::recording::{Finding, GaugeMethod, Place};
use std::collections::BTreeSet;

/// Caliper readings of runs whose rig states neither step nor uncertainty of the caliper: once a rig.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let read: BTreeSet<&str> = facts
        .tables
        .calipers
        .iter()
        .filter(|reading| reading.method == GaugeMethod::Caliper)
        .map(|reading| reading.run_id.as_str())
        .collect();
    let files: BTreeSet<&str> = facts
        .tables
        .runs
        .iter()
        .filter(|run| read.contains(run.run_id.as_str()))
        .filter_map(|run| facts.rig_of(run))
        .filter(|rig| rig.caliper_resolution_mm.is_none() && rig.caliper_u_mm.is_none())
        .map(|rig| rig.file.as_str())
        .collect();
    files
        .into_iter()
        .map(|file| {
            Finding::doubt(
                "caliper-resolution-undeclared",
                "neither step nor uncertainty of the caliper is declared, so diameters carry only the scatter of their readings",
            )
            .at(Place::file(file))
            .help("add [geometry] caliper_resolution_mm and caliper_u_mm (standard uncertainty of one reading) to the rig")
        })
        .collect()
}
