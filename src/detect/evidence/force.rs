//! What the load cell felt: anything that lets go unloads or jolts it, noise of the pressure channel does not.

use super::steps::step;
use super::{Context, Fall, SURE, Witness};

/// A change counts from so many times the usual step.
const FELT_SIGMAS: f64 = 4.0;
/// Log-odds against an event where nothing is felt: the cell may sit beside the way of the force (chosen, no source).
const NOT_FELT: f64 = -1.0;

pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let trace = context.trace;
    let values = trace.force_n.as_ref()?;
    let step = step(trace, values, (fall.t_lo_s, fall.t_hi_s), (f64::NAN, 0.0))?;
    let weight = (step.times.abs() - FELT_SIGMAS).clamp(NOT_FELT, SURE);
    Some(Witness {
        says: format!(
            "force: {:+.2} N over the onset, {:.1} times what it usually changes in that time",
            step.size,
            step.times.abs()
        ),
        weights: [0.0, 0.0, 0.0, -weight],
    })
}
