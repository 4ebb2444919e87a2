//! Burst: the pressure falls to about zero and strokes do nothing.

use super::fracture::event;
use super::{Context, Detector, Fall};
use crate::calibrate::median;
use crate::recording::{Event, EventKind};

/// A pressure rebuilt to this share of the one before means that the balloon holds.
const REBUILT_SHARE: f64 = 0.25;

/// What is left counts as nothing within so many standard deviations of the noise.
const NOTHING_SIGMAS: f64 = 6.0;
/// What is left after a fall shows within this time, s.
const SETTLING_S: f64 = 0.3;

/// See the module.
pub(super) struct Burst;

impl Detector for Burst {
    fn name(&self) -> &'static str {
        "burst"
    }

    fn looks_for(&self) -> &'static str {
        "a fall of pressure to about zero that no stroke rebuilds"
    }

    fn find(&self, context: &Context<'_>) -> Vec<Event> {
        context
            .falls
            .iter()
            .filter(|fall| emptied(context, fall))
            .take(1)
            .map(|fall| event(context, fall, EventKind::Burst))
            .collect()
    }
}

/// True where the fall leaves next to nothing and nothing is rebuilt.
pub(super) fn emptied(context: &Context<'_>, fall: &Fall) -> bool {
    // The first tenths of a second still belong to the fall.
    let settled = context
        .trace
        .time_s
        .partition_point(|t| *t < fall.t_hi_s + SETTLING_S);
    let over = &context.trace.pressure_kpa[fall.after..settled.max(fall.after + 1)];
    let left = median(over).min(fall.pressure_kpa - fall.drop_kpa);
    let nothing = (context.settings.burst_left_share * fall.pressure_kpa)
        .max(NOTHING_SIGMAS * context.trace.noise_kpa);
    if left > nothing {
        return false;
    }
    let highest = context.trace.pressure_kpa[settled..]
        .iter()
        .copied()
        .filter(|p| p.is_finite())
        .fold(0.0, f64::max);
    highest < REBUILT_SHARE * fall.pressure_kpa
}
