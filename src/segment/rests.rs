//! Quasi-static points: what pressure, volume and diameter were while nothing moved.

use super::{Motion, State};
use crate::calibrate::median;
use crate::recording::{Phase, PhaseKind, Readings, Trace};
use crate::rig::settings;

/// A quasi-static point: medians over the settled end of a rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// First sample used.
    pub from: usize,
    /// One past the last sample used.
    pub to: usize,
    /// Middle of the samples used, s.
    pub t_s: f64,
    /// Pressure, kPa.
    pub pressure_kpa: f64,
    /// Injected volume, mL; NaN without a channel.
    pub volume_ml: f64,
    /// Optical diameter, mm; NaN without a channel.
    pub diameter_mm: f64,
    /// Length of the whole rest, s.
    pub length_s: f64,
}

/// Quasi-static points of the strokes and holds of a trace, in time order.
pub fn rests(
    trace: &Trace,
    motion: &Motion,
    phases: &[Phase],
    settings: &settings::Rests,
) -> Vec<Rest> {
    let mut points = Vec::new();
    for phase in phases
        .iter()
        .filter(|p| matches!(p.kind, PhaseKind::Stroke | PhaseKind::Hold))
    {
        // The stretches that reach into the phase.
        let stretches = motion.stretches();
        let first = stretches.partition_point(|s| s.2 <= phase.start);
        for &(state, from, to) in stretches[first..].iter().take_while(|s| s.1 < phase.end) {
            if state == State::Still {
                points.extend(point(
                    trace,
                    from.max(phase.start),
                    to.min(phase.end),
                    settings,
                ));
            }
        }
    }
    points
}

fn point(trace: &Trace, from: usize, to: usize, settings: &settings::Rests) -> Option<Rest> {
    let (start, end) = (trace.time_s[from], trace.time_s[to - 1]);
    if end - start < settings.shortest_s - trace.step_s / 2.0 {
        return None;
    }
    let since = (start + settings.settling_share * (end - start))
        .max(end - settings.longest_s)
        .min(end);
    let from = from + trace.time_s[from..to].partition_point(|t| *t < since);
    let clipped = trace.clipped[from..to].iter().any(|c| *c);
    let pressure = median(&trace.pressure_kpa[from..to]);
    if clipped || !pressure.is_finite() {
        return None;
    }
    let of =
        |channel: &Option<Readings>| channel.as_ref().map_or(f64::NAN, |c| median(&c[from..to]));
    Some(Rest {
        from,
        to,
        t_s: f64::midpoint(trace.time_s[from], end),
        pressure_kpa: pressure,
        volume_ml: of(&trace.volume_ml),
        diameter_mm: of(&trace.diameter_mm),
        length_s: end - start,
    })
}
