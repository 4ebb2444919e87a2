//! The pressure of a break by each definition, each with its budget. Different definitions are never pooled.

use super::{Context, Fall};
use crate::calibrate::median;
use crate::recording::{Contribution, PhaseKind, PressureByDefinition, PressureDefinition, Trace};
use crate::uncertain::{Distribution, Quantity};

/// Why a pressure at the limit of the channel has no uncertainty.
const AT_LEAST: &str = "the channel was at its limit: the pressure was at least this";

/// Every definition that the recording alone tells. A new one is a function and a line here.
const DEFINITIONS: &[fn(&Context<'_>, &Fall) -> PressureByDefinition] =
    &[onset, maximum_before, last_completed_step];

/// The pressure of a break by every definition that the recording tells.
pub(super) fn by_definition(context: &Context<'_>, fall: &Fall) -> Vec<PressureByDefinition> {
    DEFINITIONS
        .iter()
        .map(|definition| definition(context, fall))
        .collect()
}

fn part(source: &str, u_kpa: f64) -> Contribution {
    Contribution {
        source: source.to_owned(),
        // What is exactly nothing contributes nothing; what is not known says so.
        u: u_kpa.is_finite().then_some(u_kpa),
        unit: "kPa".to_owned(),
        distribution: Distribution::Normal,
        reason: (!u_kpa.is_finite()).then(|| "not known".to_owned()),
    }
}

/// What the channel itself contributes at a pressure and time.
fn channel(trace: &Trace, kpa: f64, t_s: f64) -> [Contribution; 2] {
    let transducer = trace.u_pressure_kpa.hypot(trace.u_pressure_rel * kpa);
    [
        part("transducer", transducer),
        part("zero", trace.u_zero_at(t_s)),
    ]
}

/// What the line takes between a transducer at the inflator and the balloon while volume flows, kPa, and what it contributes.
///
/// A declared resistance is taken off (`R q`), known to a part of itself. Where none is declared, nothing is taken off: the loss is
/// between nothing and that of a usual line, so that its root mean square is `R q / sqrt(3)`.
struct LineLoss {
    taken_off_kpa: f64,
    part: Contribution,
}

fn line_loss(context: &Context<'_>, fall: &Fall) -> LineLoss {
    let trace = context.trace;
    let settings = &context.settings.definitions;
    let rate = trace.volume_ml.as_ref().and_then(|volume| {
        let from = trace
            .time_s
            .partition_point(|t| *t < fall.t_lo_s - settings.flow_s);
        let from = from.min(fall.before.saturating_sub(1));
        let (dv, dt) = (
            volume.get(fall.before)? - volume.get(from)?,
            trace.time_s.get(fall.before)? - trace.time_s.get(from)?,
        );
        (dt > 0.0 && dv.is_finite()).then_some(dv / dt)
    });
    let known = |taken_off_kpa: f64, u: f64| LineLoss {
        taken_off_kpa,
        part: part("line loss", u),
    };
    let unknown = |source: String, u: Option<f64>, reason: Option<&str>| LineLoss {
        taken_off_kpa: 0.0,
        part: Contribution {
            source,
            u,
            unit: "kPa".to_owned(),
            distribution: Distribution::Rectangular,
            reason: reason.map(str::to_owned),
        },
    };
    match (trace.line_resistance, rate) {
        // A transducer beside the balloon loses nothing, whatever flows.
        (Some(r), _) if r.kpa_s_per_ml == 0.0 => known(0.0, 0.0),
        (Some(r), Some(rate)) => {
            let loss = r.kpa_s_per_ml * rate;
            known(loss, r.u_rel * loss.abs())
        }
        (None, Some(rate)) => {
            let most = settings.assumed_resistance_kpa_s_per_ml;
            // The root mean square of anything between nothing and all of it.
            let u = most * rate.abs() / 3.0_f64.sqrt();
            let source = format!(
                "line loss of {rate:+.2} mL/s through 0 to {most} kPa s/mL, assumed: resistance_kpa_s_per_ml of [line] is not declared"
            );
            unknown(source, Some(u), None)
        }
        (_, None) => {
            let why = "without a volume channel the flow at the onset is not known";
            unknown("line loss".to_owned(), None, Some(why))
        }
    }
}

/// The pressure just before an onset, less what the line took.
pub(super) fn at_onset(context: &Context<'_>, fall: &Fall) -> Quantity {
    if fall.level.beyond_limit.is_nan() {
        return Quantity::without_u(fall.pressure_kpa, "kPa", "onset by change point", AT_LEAST);
    }
    let loss = line_loss(context, fall);
    let method = match (fall.clipped, loss.taken_off_kpa == 0.0) {
        (true, _) => "onset by change point, extrapolated over clipped samples",
        (false, true) => "onset by change point",
        (false, false) => "onset by change point, less what the line takes of the flow",
    };
    Quantity::known(
        fall.pressure_kpa - loss.taken_off_kpa,
        fall.u_pressure_kpa.hypot(loss.part.u.unwrap_or(0.0)),
        "kPa",
        method,
    )
}

fn onset(context: &Context<'_>, fall: &Fall) -> PressureByDefinition {
    let level = &fall.level;
    let mut budget = channel(context.trace, fall.pressure_kpa, fall.t_s).to_vec();
    budget.extend([
        part("noise of the samples before", level.noise),
        Contribution {
            distribution: Distribution::Rectangular,
            ..part("interval of the onset", level.timing)
        },
        part("volume counter", level.counter),
    ]);
    if fall.clipped {
        budget.push(part("beyond the limit of the channel", level.beyond_limit));
    }
    budget.push(line_loss(context, fall).part);
    PressureByDefinition {
        definition: PressureDefinition::Onset,
        pressure: at_onset(context, fall),
        at_most: None,
        budget,
    }
}

fn maximum_before(context: &Context<'_>, fall: &Fall) -> PressureByDefinition {
    let trace = context.trace;
    let from = trace
        .time_s
        .partition_point(|t| *t < fall.t_lo_s - context.settings.definitions.before_s);
    let samples = trace
        .pressure_kpa
        .get(from..=fall.before)
        .unwrap_or_default();
    let top = samples
        .iter()
        .copied()
        .filter(|p| p.is_finite())
        .fold(f64::NEG_INFINITY, f64::max);
    let method = "largest sample of the tenth of a second before the onset";
    let loss = line_loss(context, fall);
    let pressure = if fall.clipped {
        Quantity::without_u(top, "kPa", method, AT_LEAST)
    } else {
        // A largest sample is one sample: its noise does not average out.
        let u = trace
            .u_pressure_at(top, fall.t_s)
            .hypot(trace.noise_kpa)
            .hypot(loss.part.u.unwrap_or(0.0));
        Quantity::known(top - loss.taken_off_kpa, u, "kPa", method)
    };
    let mut budget = channel(trace, top, fall.t_s).to_vec();
    budget.push(part("noise of a sample", trace.noise_kpa));
    budget.push(loss.part);
    PressureByDefinition {
        definition: PressureDefinition::MaximumBefore,
        pressure,
        at_most: None,
        budget,
    }
}

/// The frame held the last completed step, and broke on the way to the next: an interval.
///
/// It ends where the next step would have ended, not where the frame broke: an end that moves with the strength would make every strength
/// look lower than it is. The next step is taken to rise as far as the one before it (the first from no pressure).
fn last_completed_step(context: &Context<'_>, fall: &Fall) -> PressureByDefinition {
    let trace = context.trace;
    let definition = PressureDefinition::LastCompletedStep;
    let missing = |reason: &str| PressureByDefinition {
        definition,
        pressure: Quantity::missing("kPa", reason),
        at_most: None,
        budget: Vec::new(),
    };
    let stroke = context
        .phases
        .iter()
        .rposition(|p| p.kind == PhaseKind::Stroke && p.start <= fall.before);
    let Some((at, stroke)) = stroke.and_then(|at| Some((at, context.phases.get(at)?))) else {
        return missing("no stroke was seen before the break");
    };
    let mut steps = completed(context, at);
    let Some(held) = steps.next() else {
        return missing("no hold was seen before the stroke in which it broke");
    };
    // What the stroke reached before the break.
    let reached = trace
        .pressure_kpa
        .get(stroke.start.min(fall.before)..=fall.before)
        .unwrap_or_default()
        .iter()
        .copied()
        .filter(|p| p.is_finite())
        .fold(fall.pressure_kpa, f64::max);
    if reached <= held {
        return missing("the stroke in which it broke reached no more than the hold before");
    }
    let before = steps.find(|kpa| *kpa < held).unwrap_or(0.0);
    let next = held + (held - before);
    let u = |kpa: f64| trace.u_pressure_at(kpa, fall.t_s).hypot(trace.noise_kpa);
    let mut budget = channel(trace, held, fall.t_s).to_vec();
    budget.push(part("noise of a sample", trace.noise_kpa));
    let at_most = if reached > next {
        Quantity::known(
            reached,
            u(reached),
            "kPa",
            "highest pressure of that stroke before the break: it went beyond a step as high as the one before",
        )
    } else {
        Quantity::known(
            next,
            u(next),
            "kPa",
            "end of the next step, taken to rise as far as the one before",
        )
    };
    PressureByDefinition {
        definition,
        pressure: Quantity::known(
            held,
            u(held),
            "kPa",
            "end of the last hold before the stroke in which it broke",
        ),
        at_most: Some(at_most),
        budget,
    }
}

/// Pressures at the ends of the holds before a stroke, kPa, the last one first: of holds without a stroke between them the last.
fn completed<'c>(context: &'c Context<'_>, stroke: usize) -> impl Iterator<Item = f64> + 'c {
    let trace = context.trace;
    let phases = context.phases.get(..stroke).unwrap_or_default();
    let steps = phases.rsplit(|p| p.kind == PhaseKind::Stroke);
    let holds = steps.filter_map(|step| step.iter().rfind(|p| p.kind == PhaseKind::Hold));
    holds.filter_map(move |hold| {
        let end = hold.end.min(trace.len());
        let samples = context.settings.definitions.end_of_hold_samples;
        let from = end.saturating_sub(samples).max(hold.start);
        let kpa = median(trace.pressure_kpa.get(from..end)?);
        kpa.is_finite().then_some(kpa)
    })
}
