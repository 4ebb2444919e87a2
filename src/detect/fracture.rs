//! Fracture: a fast partial fall, nothing withdrawn, the balloon still holds.

use super::definitions::{at_onset, by_definition};
use super::evidence::{Kind, Weighed};
use super::{Context, Detector, Fall};
use crate::recording::{Event, EventKind, Grade};
use crate::uncertain::Quantity;

/// See the module.
pub(super) struct Fracture;

impl Detector for Fracture {
    fn name(&self) -> &'static str {
        "fracture"
    }

    fn looks_for(&self) -> &'static str {
        "a fall of pressure within tens of milliseconds that moved volume does not explain, after which the balloon still holds"
    }

    fn find(&self, context: &Context<'_>) -> Vec<Event> {
        context
            .likeliest(Kind::Fracture)
            .map(|(fall, weighed)| event(context, fall, weighed, EventKind::Fracture))
            .collect()
    }
}

/// The event of a fall, with the evidence in words.
pub(super) fn event(
    context: &Context<'_>,
    fall: &Fall,
    weighed: &Weighed,
    kind: EventKind,
) -> Event {
    let trace = context.trace;
    Event {
        kind,
        t_s: Some(fall.t_s),
        t_lo_s: Some(fall.t_lo_s),
        t_hi_s: Some(fall.t_hi_s),
        sample: trace.row.get(fall.first).map(|row| row as usize),
        pressure: at_onset(context, fall),
        drop: drop(fall),
        volume: if fall.volume_ml.is_finite() {
            let u = (trace.u_volume_ml.powi(2)
                + (trace.u_volume_rel * fall.volume_ml).powi(2)
                + trace.noise_ml.powi(2))
            .sqrt();
            Quantity::known(fall.volume_ml, u, "mL", "injected volume at the onset")
        } else {
            Quantity::missing("mL", "no volume channel")
        },
        pressures: by_definition(context, fall),
        confidence: (weighed.probability * 1000.0).round() / 1000.0,
        log_odds: weighed.odds.clone(),
        grade: Grade::TraceOnly,
        evidence: weighed.evidence.clone(),
        before: fall.before,
        after: fall.after,
    }
}

/// The fall of pressure; at the limit of the channel it was at least so large.
fn drop(fall: &Fall) -> Quantity {
    let method = "level before less level after, moved volume taken out";
    if fall.u_drop_kpa.is_nan() {
        let reason = "the channel was at its limit before: the fall was at least this";
        return Quantity::without_u(fall.drop_kpa, "kPa", method, reason);
    }
    Quantity::known(fall.drop_kpa, fall.u_drop_kpa, "kPa", method)
}
