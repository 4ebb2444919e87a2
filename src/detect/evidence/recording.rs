//! What the recording hides: remarks that weigh nothing and tell how far the figures can be trusted.

use super::{Context, Fall, Witness};

/// The channel stood at its limit before.
pub(super) fn clipped(_: &Context<'_>, fall: &Fall) -> Option<Witness> {
    fall.clipped.then(|| {
        let what = if fall.level.beyond_limit.is_nan() {
            "how far the pressure was beyond it is not known"
        } else {
            "the pressure is extrapolated with the volume"
        };
        Witness::remark(format!("the channel was at its limit before: {what}"))
    })
}

/// Samples are missing at the onset.
pub(super) fn gap(_: &Context<'_>, fall: &Fall) -> Option<Witness> {
    fall.in_gap.then(|| {
        Witness::remark("samples are missing at the onset: it lies somewhere in the gap".to_owned())
    })
}

/// The recording ends soon after.
pub(super) fn ends(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let left = context.trace.time_s.last()? - fall.t_hi_s;
    (left < context.settings.evidence.recording_ends_s).then(|| {
        Witness::remark(format!(
            "the recording ends {left:.2} s later: whether the balloon held is seen no longer than that"
        ))
    })
}
