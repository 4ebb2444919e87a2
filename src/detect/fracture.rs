//! Fracture: a fast partial fall, nothing withdrawn, the balloon still holds.

use super::burst::emptied;
use super::definitions::by_definition;
use super::{Context, Detector, Fall};
use crate::calibrate::{mad_sigma, median};
use crate::recording::{Event, EventKind, Grade};
use crate::uncertain::Quantity;

/// Sound counts if it comes this near to the onset, s: the skew of two clocks of one recorder.
const SOUND_NEAR_S: f64 = 0.05;
/// ... and within so many standard uncertainties of its clock, where that is another one: 95 % of a normal distribution.
const SOUND_CLOCK_SIGMAS: f64 = 2.0;
/// An impulse stands so many robust standard deviations over the background.
const SOUND_LOUD: f64 = 10.0;

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
            .falls
            .iter()
            .filter(|fall| fall.fast && !emptied(context, fall))
            .map(|fall| event(context, fall, EventKind::Fracture))
            .collect()
    }
}

/// The event of a fall, with the evidence in words.
pub(super) fn event(context: &Context<'_>, fall: &Fall, kind: EventKind) -> Event {
    let trace = context.trace;
    let mut evidence = vec![format!(
        "pressure falls by {:.1} kPa, {:.1} times the {:.1} kPa that noise and moved volume explain",
        fall.drop_kpa,
        fall.drop_kpa / fall.threshold_kpa,
        fall.threshold_kpa
    )];
    if fall.took_s > 0.0 {
        evidence.push(format!("the fall took about {:.0} ms", 1e3 * fall.took_s));
    } else {
        evidence.push(format!(
            "the whole fall lies between two samples ({:.0} ms apart): its duration is not resolved",
            1e3 * (fall.t_hi_s - fall.t_lo_s)
        ));
    }
    if trace.volume_ml.is_some() {
        evidence.push(format!(
            "{:+.3} mL moved meanwhile: nothing was withdrawn",
            fall.moved_ml
        ));
    } else {
        evidence.push("no volume channel: whether volume was withdrawn is not seen".to_owned());
    }
    if fall.clipped {
        evidence.push(
            "the channel was at its limit before: the pressure is extrapolated with the volume"
                .to_owned(),
        );
    }
    if fall.in_gap {
        evidence.push("samples are missing at the onset: it lies somewhere in the gap".to_owned());
    }
    evidence.extend(sound(context, fall));
    let later = context.deflation_start();
    let highest_after = trace.pressure_kpa[fall.after..later.max(fall.after)]
        .iter()
        .copied()
        .filter(|p| p.is_finite())
        .fold(0.0, f64::max);
    if kind != EventKind::Burst {
        evidence.push(format!(
            "the balloon holds afterwards: up to {highest_after:.0} kPa again"
        ));
    }
    let score = fall.drop_kpa / fall.threshold_kpa.max(1e-9);
    let confidence =
        (1.0 - (-score / 1.5).exp()) * if trace.volume_ml.is_some() { 1.0 } else { 0.85 };
    Event {
        kind,
        t_s: Some(fall.t_s),
        t_lo_s: Some(fall.t_lo_s),
        t_hi_s: Some(fall.t_hi_s),
        sample: trace.row.get(fall.first).map(|row| row as usize),
        pressure: Quantity::known(
            fall.pressure_kpa,
            fall.u_pressure_kpa,
            "kPa",
            if fall.clipped {
                "onset by change point, extrapolated over clipped samples"
            } else {
                "onset by change point"
            },
        ),
        drop: Quantity::known(
            fall.drop_kpa,
            fall.u_drop_kpa,
            "kPa",
            "level before less level after, moved volume taken out",
        ),
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
        confidence: (confidence * 1000.0).round() / 1000.0,
        grade: Grade::TraceOnly,
        evidence,
        before: fall.before,
        after: fall.after,
    }
}

/// What the sound channel says within [`SOUND_NEAR_S`] of the onset, wider by what its clock leaves open where another recorder heard
/// it; nothing without such a channel. Burst and stopcock click too, so sound alone proves nothing.
fn sound(context: &Context<'_>, fall: &Fall) -> Option<String> {
    let trace = context.trace;
    let sound = trace.sound.as_ref()?;
    let rest = mad_sigma(sound);
    let centre = median(sound);
    let near = SOUND_NEAR_S + SOUND_CLOCK_SIGMAS * trace.sound_u_time_s;
    let from = trace.time_s.partition_point(|t| *t < fall.t_lo_s - near);
    let to = trace.time_s.partition_point(|t| *t < fall.t_hi_s + near);
    let loudest = sound
        .get(from..to)?
        .iter()
        .filter(|v| v.is_finite())
        .map(|v| (v - centre).abs())
        .reduce(f64::max)?;
    if rest <= 0.0 || !rest.is_finite() {
        return None;
    }
    let times = loudest / rest;
    let ms = 1e3 * near;
    Some(if times > SOUND_LOUD {
        format!(
            "sound: an impulse of {times:.0} times the background within {ms:.0} ms of the onset"
        )
    } else {
        format!("sound: no impulse within {ms:.0} ms of the onset")
    })
}
