//! How fast the fall is: a snap loses nearly all of its pressure at once, a slip drags on.

use super::{Context, Fall, SURE, Witness};
use crate::detect::levels::SNAP_S;

/// So much more of the fall within a snap's time makes a snap more likely by a factor e: what noise and the ends of the time
/// looked at make of that share.
const SHARE_E: f64 = 0.05;
/// The least it says: a fall that is on one side of the limit is on that side.
const LEAST: f64 = 0.5;
/// On a slow clock the time between two samples is longer than a snap and as long as a slip: it is half as sure.
const SLOW_CLOCK: f64 = 0.5;

#[expect(
    clippy::unnecessary_wraps,
    reason = "other witnesses may have nothing to say"
)]
pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let most = if context.trace.step_s > SNAP_S {
        SLOW_CLOCK * SURE
    } else {
        SURE
    };
    let beyond = fall
        .snap_share
        .map_or(0.0, |share| (share - context.settings.snap_share) / SHARE_E);
    let weight = if fall.fast {
        beyond.clamp(LEAST, most)
    } else {
        beyond.clamp(-most, -LEAST)
    };
    let says = if fall.took_s > 0.0 {
        format!("the fall took about {:.0} ms", 1e3 * fall.took_s)
    } else {
        format!(
            "the whole fall lies between two samples ({:.0} ms apart): its duration is not resolved",
            1e3 * (fall.t_hi_s - fall.t_lo_s)
        )
    };
    Some(Witness {
        says,
        weights: [weight, weight, 0.0, 0.0],
    })
}
