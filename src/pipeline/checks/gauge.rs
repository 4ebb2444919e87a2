//! What a caliper reading is worth.

use super::Facts;
use crate::measure::GaugeWorth;
use crate::recording::{Finding, GaugeMethod, Place};
use crate::rig::Rig;
use std::collections::{BTreeMap, BTreeSet};

/// Caliper readings of runs whose rig does not state the uncertainty of a reading, or not even the step of the caliper: once a rig.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let read: BTreeSet<&str> = facts
        .tables
        .calipers
        .iter()
        .filter(|reading| reading.method == GaugeMethod::Caliper)
        .map(|reading| reading.run_id.as_str())
        .collect();
    let rigs: BTreeMap<&str, &Rig> = facts
        .tables
        .runs
        .iter()
        .filter(|run| read.contains(run.run_id.as_str()))
        .filter_map(|run| facts.rig_of(run))
        .filter(|rig| rig.caliper_u_mm.is_none())
        .map(|rig| (rig.file.as_str(), rig))
        .collect();
    rigs.into_iter()
        .map(|(file, rig)| match rig.caliper_resolution_mm {
            Some(step) => Finding::doubt(
                "caliper-uncertainty-assumed",
                format!(
                    "the step of the caliper is declared and not what a reading with it is worth; {} mm (standard uncertainty) is taken",
                    GaugeWorth::usual_u_mm(step)
                ),
            )
            .at(Place::file(file))
            .help("add [geometry] caliper_u_mm (standard uncertainty of one reading, operator included) to the rig"),
            None => Finding::doubt(
                "caliper-resolution-undeclared",
                "neither step nor uncertainty of the caliper is declared, so diameters carry only the scatter of their readings",
            )
            .at(Place::file(file))
            .help("add [geometry] caliper_resolution_mm and caliper_u_mm (standard uncertainty of one reading) to the rig"),
        })
        .collect()
}
