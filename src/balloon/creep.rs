//! What a free balloon creeps by: its wall gives way slowly under pressure, so that the pressure falls while it is held. A held volume loses
//! `dp C` of pressure times capacity to the wall.

use crate::calibrate::median;
use crate::recording::Trace;
use crate::segment::Rest;

/// Part of a rest at its beginning and at its end that tells the pressure there.
const END_SHARE: f64 = 0.1;
/// The flow has come to rest after this, s: several time constants of a line (8 ms).
const FLOW_ENDS_S: f64 = 0.1;
/// Fewest samples at an end.
const FEWEST: usize = 3;

/// Volume crept up to each rest of a free run, mL, against its pressure (kPa, increasing).
pub(super) fn crept(trace: &Trace, rests: &[Rest]) -> Vec<(f64, f64)> {
    let mut sum = 0.0;
    let mut highest = f64::NEG_INFINITY;
    let mut points = Vec::new();
    for (k, rest) in rests.iter().enumerate() {
        let capacity = capacity(rests, k);
        let fall = fall(trace, rest);
        if capacity.is_finite() && fall.is_finite() {
            // Half of what a rest creeps by is there when it is read: it is read over its later part.
            points.push((rest.pressure_kpa, sum + 0.5 * fall * capacity));
            sum += fall * capacity;
        }
    }
    points.retain(|p| {
        let up = p.0 > highest;
        highest = highest.max(p.0);
        up
    });
    points
}

/// Injected volume over pressure between the neighbours of a rest, mL/kPa.
fn capacity(rests: &[Rest], k: usize) -> f64 {
    let (Some(a), Some(b)) = (
        rests.get(k.saturating_sub(1)),
        rests.get((k + 1).min(rests.len() - 1)),
    ) else {
        return f64::NAN;
    };
    let c = (b.volume_ml - a.volume_ml) / (b.pressure_kpa - a.pressure_kpa);
    if c > 0.0 { c } else { f64::NAN }
}

/// Fall of the pressure over a rest, kPa; never below nothing.
fn fall(trace: &Trace, rest: &Rest) -> f64 {
    let Some(end_s) = trace.time_s.get(rest.to.saturating_sub(1)) else {
        return f64::NAN;
    };
    let start = trace
        .time_s
        .partition_point(|t| *t < end_s - rest.length_s + FLOW_ENDS_S);
    let n = rest.to.saturating_sub(start);
    let part = ((END_SHARE * n as f64) as usize).max(FEWEST);
    let (Some(first), Some(last)) = (
        trace.pressure_kpa.get(start..(start + part).min(rest.to)),
        trace
            .pressure_kpa
            .get(rest.to.saturating_sub(part).max(start)..rest.to),
    ) else {
        return f64::NAN;
    };
    (median(first) - median(last)).max(0.0)
}
