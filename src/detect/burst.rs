//! Burst: the pressure falls to about zero and strokes do nothing.

use super::fracture::event;
use super::{Context, Detector, Fall};
use crate::calibrate::median;
use crate::recording::{Event, EventKind};

/// A pressure rebuilt to this share of the one before means that the balloon holds.
const REBUILT_SHARE: f64 = 0.25;

/// The first moments after a fall still belong to it, s.
const SETTLED_S: f64 = 0.3;

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
    // What is left is read where the fall has ended, not computed.
    let trace = context.trace;
    let end = trace
        .time_s
        .partition_point(|t| *t < fall.t_hi_s + SETTLED_S)
        .max(fall.after + 1)
        .min(trace.len());
    let left = median(&trace.pressure_kpa[fall.after.min(end - 1)..end]);
    let nothing =
        (context.settings.burst_left_share * fall.pressure_kpa).max(6.0 * context.trace.noise_kpa);
    if left > nothing {
        return false;
    }
    let settled = context
        .trace
        .time_s
        .partition_point(|t| *t < fall.t_hi_s + SETTLED_S);
    let highest = context.trace.pressure_kpa[settled..]
        .iter()
        .copied()
        .filter(|p| p.is_finite())
        .fold(0.0, f64::max);
    highest < REBUILT_SHARE * fall.pressure_kpa
}
