//! Pressures that the sensor cannot read.

use super::{Channel, Said, counted};
use crate::calibrate::stretches::{samples, stretches};
use crate::recording::{Finding, Trace};

/// Samples outside the range that the rig declares.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let Some((low, high)) = channel.spec.range else {
        return Said::default();
    };
    let found = stretches(&trace.pressure_kpa, |p| (p < low) | (p > high));
    if found.is_empty() {
        return Said::default();
    }
    let count = samples(&found);
    let finding = Finding::doubt(
        "out-of-range",
        format!("{count} pressures lie outside the sensor's range of {low} to {high} kPa and are left out"),
    )
    .effect(format!("{} of {} left out", counted(count, "sample"), trace.len()));
    Said {
        findings: vec![channel.over(finding, trace, &found)],
        left_out: found,
        ..Said::default()
    }
}
