//! How fast the fall is: a snap loses nearly all of its pressure at once, a slip drags on.

use super::{Context, Fall, Witness};

#[expect(
    clippy::unnecessary_wraps,
    reason = "other witnesses may have nothing to say"
)]
pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let is = &context.settings.evidence;
    let most = if context.trace.step_s > context.settings.falls.snap_s {
        is.pace_slow_clock_share * is.sure_log_odds
    } else {
        is.sure_log_odds
    };
    let least = is.pace_least_log_odds.min(most);
    let beyond = fall.snap_share.map_or(0.0, |share| {
        (share - context.settings.snap_share) / is.pace_e_share
    });
    let weight = if fall.fast {
        beyond.clamp(least, most)
    } else {
        beyond.clamp(-most, -least)
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
