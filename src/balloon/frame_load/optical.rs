//! The optical diameter just before a moment.

use crate::calibrate::{mad_sigma, median};
use crate::fit::straight_line;
use crate::recording::Trace;
use crate::uncertain::{Budget, Component};

/// Optical readings just before an event are taken over this time, s.
const BEFORE_EVENT_S: f64 = 0.2;
/// Standard uncertainty of the time of an optical diameter, s: one frame of a slow camera.
const CAMERA_U_S: f64 = 0.04;

/// Steps below this are rounding of the readings, mm.
const LEAST_STEP_MM: f64 = 1e-6;

/// Grid that the optical diameters of a trace stand on, mm: the smallest step from one to the next; 0 without a camera.
pub(super) fn step_mm(trace: &Trace) -> f64 {
    let Some(channel) = &trace.diameter_mm else {
        return 0.0;
    };
    let steps = channel.windows(2).filter_map(|pair| match pair {
        [a, b] => Some((b - a).abs()).filter(|step| *step > LEAST_STEP_MM),
        _ => None,
    });
    let least = steps.fold(f64::INFINITY, f64::min);
    if least.is_finite() { least } else { 0.0 }
}

/// Optical diameter just before a time, mm, with its standard uncertainty: a straight line through the last moments, carried to
/// that time, because the waist often opens fast before a break. Readings so near to it that they may show what came after are left out.
pub fn optical_before(trace: &Trace, t_s: f64) -> Option<(f64, f64)> {
    let (value, budget) = optical_budget(trace, t_s)?;
    let u = budget.combined();
    Some((value, if u > 0.0 { u } else { f64::NAN }))
}

/// The same with what its uncertainty is made of, mm.
pub fn optical_budget(trace: &Trace, t_s: f64) -> Option<(f64, Budget)> {
    let channel = trace.diameter_mm.as_ref()?;
    // A camera shows the past: its frames and the declared delay place a diameter in time no better than this, and its clock may be
    // another one.
    let u_time = CAMERA_U_S.hypot(trace.diameter_u_time_s);
    let end_s = t_s - u_time;
    let to = trace.time_s.partition_point(|t| *t < end_s);
    let from = trace
        .time_s
        .partition_point(|t| *t < end_s - BEFORE_EVENT_S.max(3.0 * trace.step_s));
    let (t, d): (Vec<f64>, Vec<f64>) = trace
        .time_s
        .get(from..to)?
        .iter()
        .zip(channel.get(from..to)?)
        .filter(|(_, d)| d.is_finite())
        .map(|(t, d)| (*t, *d))
        .unzip();
    let channel_u = if trace.u_diameter_mm.is_finite() {
        trace.u_diameter_mm
    } else {
        0.0
    };
    let (value, scatter, slope) = match straight_line(&t, &d, None) {
        Ok(line) if t.len() > 3 => (line.at(t_s), line.u_at(t_s), line.slope),
        _ => (median(&d), mad_sigma(&d), 0.0),
    };
    let budget = Budget::new()
        .with(Component::normal("optical channel", channel_u))
        .with(Component::normal("scatter of its readings", scatter))
        .with(Component::normal("time of a picture", u_time).sensitivity(slope));
    value.is_finite().then_some((value, budget))
}
