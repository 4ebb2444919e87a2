//! How large the fall is against what noise and moved volume explain.

use super::{Context, Fall, Witness};

/// Noise alone makes falls this large so often in a run; a run sees about one event.
pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let is = &context.settings.evidence;
    let noise = &context.noise;
    let volume = context.settings.volume_share * fall.stiffness * fall.moved_ml.abs();
    let sigma = noise.sigma_kpa.hypot(volume / is.size_volume_sigmas);
    let times = fall.drop_kpa / sigma;
    let alarms = noise.alarms(times);
    let says = format!(
        "pressure falls by {:.1} kPa, {:.1} times the {:.1} kPa that noise and moved volume explain",
        fall.drop_kpa,
        fall.drop_kpa / fall.threshold_kpa,
        fall.threshold_kpa
    );
    Some(Witness {
        says,
        weights: [
            0.0,
            0.0,
            0.0,
            alarms.ln().clamp(-is.sure_log_odds, is.sure_log_odds),
        ],
    })
    .filter(|_| times.is_finite())
}
