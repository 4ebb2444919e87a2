//! What the flow probe reads while the valve is closed: nothing flows forwards then, so that a reading above zero is its offset.
//!
//! A leak reads below zero, and an offset below zero cannot be told from one.

use super::flow_period::{quantile, sample_noise};
use super::flow_record::FlowInstruments;
use crate::recording::{Finding, FlowRecord};

/// A valve is closed where the pressure difference opposes the flow by more than this, mmHg: far beyond what decelerates the fluid at the
/// end of an ejection, and far below what a closed aortic or mitral valve holds, 70 to 120 mmHg (common practice, no source).
const CLOSED_MMHG: f64 = 20.0;
/// Fewest samples of a closed valve.
const FEWEST: usize = 20;
/// Readings of neighbouring samples are alike: they count as so many independent ones at most.
const MOST_INDEPENDENT: f64 = 25.0;
/// An offset stands out by so many standard uncertainties: by chance one record in 30 000.
const SIGMAS: f64 = 4.0;

/// A doubt where the flow reads forwards through the closed valve.
pub(super) fn flow_through_closed(
    record: &FlowRecord,
    instruments: &FlowInstruments,
) -> Option<Finding> {
    let closed: Vec<f64> = record
        .flow_ml_s
        .iter()
        .zip(&record.dp_mmhg)
        .filter(|(q, p)| q.is_finite() && **p < -CLOSED_MMHG)
        .map(|(q, _)| *q)
        .collect();
    if closed.len() < FEWEST {
        return None;
    }
    let level = quantile(closed.iter().copied(), 0.5);
    let noise =
        sample_noise(&record.flow_ml_s) / (closed.len() as f64).min(MOST_INDEPENDENT).sqrt();
    let u = noise.hypot(instruments.u_flow_zero_ml_s);
    (level > SIGMAS * u).then(|| {
        Finding::doubt(
            "flow-zero-off",
            format!(
                "while the pressure difference holds the valve closed (below -{CLOSED_MMHG} mmHg) the flow reads {level:.1} mL/s forwards, more than its zero of {u:.1} mL/s explains; flow, volumes and orifice area may be too large"
            ),
        )
        .help("zero the probe in still fluid before the record, or declare what its zero is worth (u_flow_ml_s in [flow])")
    })
}
