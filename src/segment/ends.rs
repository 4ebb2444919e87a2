//! Pressure and volume at the ends of a phase.

use crate::recording::{Phase, PhaseEnds, Trace};

/// Samples at either end: a median of three is no single sample, and lags by no more than one behind a rising pressure.
const SAMPLES: usize = 3;

/// What stood at the ends of a phase.
pub(super) fn ends(trace: &Trace, phase: &Phase) -> PhaseEnds {
    let first = phase.start..phase.end.min(phase.start + SAMPLES);
    let last = phase.start.max(phase.end.saturating_sub(SAMPLES))..phase.end;
    let pressure_start_kpa = middle(trace.pressure_kpa.get(first));
    let pressure_end_kpa = middle(trace.pressure_kpa.get(last.clone()));
    let higher = [
        (pressure_start_kpa, phase.t_start_s),
        (pressure_end_kpa, phase.t_end_s),
    ]
    .into_iter()
    .filter_map(|(p, t)| Some((p?, t)))
    .max_by(|a, b| a.0.total_cmp(&b.0));
    let volume_end_ml = trace.volume_ml.as_ref().and_then(|v| middle(v.get(last)));
    PhaseEnds {
        pressure_start_kpa,
        pressure_end_kpa,
        u_pressure_kpa: higher
            .map(|(p, t)| trace.u_pressure_at(p, t).hypot(trace.noise_kpa))
            .filter(|u| known(*u)),
        volume_end_ml,
        u_volume_ml: volume_end_ml
            .map(|v| {
                trace
                    .u_volume_ml
                    .hypot(trace.u_volume_rel * v)
                    .hypot(trace.noise_ml)
            })
            .filter(|u| known(*u)),
    }
}

fn known(u: f64) -> bool {
    u.is_finite() && u > 0.0
}

/// Median of the few values that are there; the lower of two.
fn middle(values: Option<&[f64]>) -> Option<f64> {
    let mut there: Vec<f64> = values?.iter().copied().filter(|v| v.is_finite()).collect();
    there.sort_by(f64::total_cmp);
    there.get(there.len().saturating_sub(1) / 2).copied()
}
