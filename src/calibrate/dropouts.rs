//! Cells without a reading, which the reader counted by line: when they were, and what they did.

use super::stretches::stretches;
use crate::recording::{Extent, Finding, Trace};

/// Code of the reader's finding about cells that are empty or hold no number.
const CODE: &str = "readings-missing";

/// Adds times and effect to what the reader said of the pressure column.
pub(super) fn tell(trace: &Trace, column: &str, findings: &mut [Finding]) {
    for finding in findings.iter_mut().filter(|finding| finding.code == CODE) {
        let Some(count) = finding.count else { continue };
        if finding.column.as_deref() != Some(column) {
            finding.add_effect(&format!("{count} readings of the column are absent"));
            continue;
        }
        let extent = Extent::of(trace, &stretches(&trace.pressure_kpa, f64::is_nan));
        finding.line_to = extent.lines.map(|lines| lines.1);
        finding.t_from_s = extent.whole_s.map(|times| times.0);
        finding.t_to_s = extent.whole_s.map(|times| times.1);
        finding.stretches_s = extent.stretches_s;
        finding.add_effect(&format!(
            "{} of {} samples are without pressure",
            extent.count,
            trace.len()
        ));
    }
}
