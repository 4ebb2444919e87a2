//! What the camera saw: a broken ring opens, a balloon that slips or bursts leaves the frame as it was.

use super::steps::step;
use super::{Context, Fall, Witness};

pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let (trace, is) = (context.trace, &context.settings.evidence);
    let values = trace.diameter_mm.as_ref()?;
    let u = (trace.u_diameter_mm, trace.diameter_u_time_s);
    let step = step(trace, values, (fall.t_lo_s, fall.t_hi_s), u, is)?;
    let weight = step.times - is.diameter_opens_sigmas;
    let weight = weight.clamp(-is.diameter_not_seen_log_odds, is.sure_log_odds);
    Some(Witness {
        says: format!(
            "optical diameter: {:+.3} mm over the onset, {:.1} times what it usually changes in that time",
            step.size, step.times
        ),
        weights: [weight, 0.0, 0.0, 0.0],
    })
}
