//! What the camera saw: a broken ring opens, a balloon that slips or bursts leaves the frame as it was.

use super::steps::step;
use super::{Context, Fall, SURE, Witness};

/// An opening counts from so many times the usual step: its weight grows from nothing there.
const OPENS_SIGMAS: f64 = 4.0;
/// Log-odds against a break where the camera sees no opening: one break in seven opens out of its sight (chosen, no source).
const NOT_SEEN: f64 = -2.0;

pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let trace = context.trace;
    let values = trace.diameter_mm.as_ref()?;
    let u = (trace.u_diameter_mm, trace.diameter_u_time_s);
    let step = step(trace, values, (fall.t_lo_s, fall.t_hi_s), u)?;
    let weight = (step.times - OPENS_SIGMAS).clamp(NOT_SEEN, SURE);
    Some(Witness {
        says: format!(
            "optical diameter: {:+.3} mm over the onset, {:.1} times what it usually changes in that time",
            step.size, step.times
        ),
        weights: [weight, 0.0, 0.0, 0.0],
    })
}
