//! What a rig leaves open although the results rest on it.

use super::Facts;
use crate::recording::{Finding, Place};
use crate::rig::{ChannelQuantity, Reference, Rig};

/// Ambient pressure, side of the transducer and range of the pressure, of every rig in use.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let mut rigs: Vec<&Rig> = Vec::new();
    for rig in facts.tables.runs.iter().filter_map(|run| facts.rig_of(run)) {
        if !rigs.iter().any(|other| other.file == rig.file) {
            rigs.push(rig);
        }
    }
    // A study without a rig file is told as a whole.
    rigs.retain(|rig| rig.file != "study.toml");
    rigs.iter().flat_map(|rig| of_rig(rig)).collect()
}

fn of_rig(rig: &Rig) -> Vec<Finding> {
    let mut findings = Vec::new();
    let place = || Place::file(&rig.file);
    if rig.ambient_kpa.is_none() {
        let absolute = rig
            .channel(ChannelQuantity::Pressure)
            .is_some_and(|(_, channel)| channel.reference == Reference::Absolute);
        let message = "the rig declares no ambient pressure: 101.325 kPa is assumed";
        let finding = if absolute {
            Finding::doubt(
                "ambient-undeclared",
                format!("{message} and taken off the absolute pressure"),
            )
        } else {
            Finding::note(
                "ambient-undeclared",
                format!("{message} where trapped air is told from the line"),
            )
        };
        findings.push(
            finding
                .at(place())
                .help("add [ambient] pressure_kpa, the reading of the barometer (absolute)"),
        );
    }
    if rig.side.is_none() {
        findings.push(
            Finding::note(
                "side-undeclared",
                "the rig does not say on which side of the line the transducer sits",
            )
            .at(place())
            .help("add [transducer] side = \"inflator\" or \"balloon\""),
        );
    }
    if let Some((_, channel)) = rig.channel(ChannelQuantity::Pressure)
        && channel.line > 0
        && channel.range.is_none()
    {
        findings.push(
            Finding::note(
                "range-undeclared",
                "the rig states no range of the pressure transducer, so readings beyond it cannot be told",
            )
            .at(Place::line(&rig.file, channel.line))
            .help("add range_kpa = [lowest, highest] from the data sheet"),
        );
    }
    findings
}
