//! Stroke volume, closing and leakage volume and regurgitant fraction of a flow record, with their uncertainty.

use super::cycle::{Cycle, cycles};
use super::flow_period::Samples;
use super::flow_record::{FlowInstruments, between, mean_of};
use crate::recording::FlowRecord;
use crate::uncertain::{Budget, Budgeted, Component, Quantity, StatedBudget};

/// Why there is no whole beat.
const NO_WHOLE_BEAT: &str = "needs a whole beat: forward flow between two zero crossings of the flow, and what follows up to the next";
/// Why nothing regurgitates.
const NO_REVERSE: &str = "the record shows no reverse flow between the beats (a leak of nothing, or flow exported without its sign)";
/// Why the two reverse volumes are one.
const NO_PEAK: &str = "no closing peak stands out of the leak in every whole beat, so closing and leakage are not parted";

/// Volumes of the whole beats of a record.
#[derive(Debug, Clone, PartialEq)]
pub struct Regurgitation {
    /// Forward stroke volume, mL.
    pub stroke_volume: Quantity,
    /// Volume back until the valve is closed, mL.
    pub closing_volume: Quantity,
    /// Volume back through the closed valve, mL; all that flows back where no closing peak stands out.
    pub leakage_volume: Quantity,
    /// (closing + leakage) / stroke, %.
    pub regurgitant_fraction: Quantity,
    /// Time of forward flow of a beat, s.
    pub ejection_time: Quantity,
    /// Beats per minute.
    pub rate: Quantity,
    /// Whole beats used.
    pub cycles: Vec<Cycle>,
    /// What the uncertainties of volumes and fraction are made of, by their names.
    pub budgets: Vec<(&'static str, StatedBudget)>,
}

/// Measures the whole beats of a record.
pub fn measure_regurgitation(record: &FlowRecord, instruments: &FlowInstruments) -> Regurgitation {
    let cycles = Samples::new(&record.time_s, &record.flow_ml_s, &record.dp_mmhg)
        .map(|samples| cycles(&samples))
        .unwrap_or_default();
    if cycles.is_empty() {
        let none = |unit: &str| Quantity::missing(unit, NO_WHOLE_BEAT);
        return Regurgitation {
            stroke_volume: none("mL"),
            closing_volume: none("mL"),
            leakage_volume: none("mL"),
            regurgitant_fraction: none("%"),
            ejection_time: none("s"),
            rate: none("1/min"),
            cycles,
            budgets: Vec::new(),
        };
    }
    let of = Over {
        cycles: &cycles,
        instruments,
    };
    let stroke_volume = of.volume(
        "integral of the forward flow",
        |c| c.forward_ml,
        |c| c.end_s - c.start_s,
    );
    let parted = cycles.iter().all(|c| c.closing_ml.is_some());
    let reversed = of.mean(|c| c.reverse_ml).0 > 0.0;
    let (closing_volume, leakage_volume) = match (reversed, parted) {
        (false, _) => (
            Budgeted::missing("mL", NO_REVERSE),
            Budgeted::missing("mL", NO_REVERSE),
        ),
        (true, false) => (
            Budgeted::missing("mL", NO_PEAK),
            of.volume(
                "reverse flow from the end of forward flow to the next beat, closing included",
                |c| c.reverse_ml,
                |c| c.next_s - c.end_s,
            ),
        ),
        (true, true) => (
            of.volume(
                "reverse flow until it is down to the leak",
                |c| c.closing_ml.unwrap_or(f64::NAN),
                |c| c.next_s - c.end_s,
            ),
            of.volume(
                "reverse flow from there to the next beat",
                |c| c.reverse_ml - c.closing_ml.unwrap_or(f64::NAN),
                |c| c.next_s - c.end_s,
            ),
        ),
    };
    let regurgitant_fraction = if reversed {
        of.fraction()
    } else {
        Budgeted::missing("%", NO_REVERSE)
    };
    let figures = [
        ("stroke_volume", &stroke_volume),
        ("closing_volume", &closing_volume),
        ("leakage_volume", &leakage_volume),
        ("regurgitant_fraction", &regurgitant_fraction),
    ];
    let budgets = figures
        .iter()
        .filter_map(|(name, figure)| Some((*name, figure.stated()?)))
        .collect();
    Regurgitation {
        budgets,
        stroke_volume: stroke_volume.quantity,
        closing_volume: closing_volume.quantity,
        leakage_volume: leakage_volume.quantity,
        regurgitant_fraction: regurgitant_fraction.quantity,
        ejection_time: of.time(|c| c.end_s - c.start_s, "s", |t| (t, 1.0)),
        rate: of.time(
            |c| c.next_s - c.start_s,
            "1/min",
            |t| (60.0 / t, 60.0 / (t * t)),
        ),
        cycles,
    }
}

/// What the noise of the samples leaves in a mean, where a single beat shows no spread.
fn noise_for(spread: Option<f64>, of_one: f64) -> Option<Component> {
    spread
        .is_none()
        .then(|| Component::normal("noise of the samples", of_one))
}

/// Means over whole beats.
struct Over<'a> {
    cycles: &'a [Cycle],
    instruments: &'a FlowInstruments,
}

impl Over<'_> {
    fn mean(&self, pick: impl Fn(&Cycle) -> f64) -> (f64, Option<f64>) {
        mean_of(&self.cycles.iter().map(pick).collect::<Vec<_>>())
    }

    fn method(&self, what: &str) -> String {
        format!("{what}, mean of {} whole beat(s)", self.cycles.len())
    }

    /// A volume, and the time over which the flow was added up for it.
    fn volume(
        &self,
        what: &str,
        pick: impl Fn(&Cycle) -> f64,
        time: impl Fn(&Cycle) -> f64,
    ) -> Budgeted {
        let (volume, spread) = self.mean(pick);
        let (time, _) = self.mean(time);
        let noise = self.mean(|c| c.noise_ml).0 * time.max(0.0).sqrt();
        let mut budget = Budget::new()
            .with(Component::normal("flow", self.instruments.u_flow_rel).sensitivity(volume))
            .with(
                Component::normal("zero of the flow", self.instruments.u_flow_zero_ml_s)
                    .sensitivity(time),
            );
        budget.components.extend(noise_for(spread, noise));
        let budget = between(budget, spread, self.cycles.len());
        Budgeted {
            quantity: budget.widened_quantity(volume, "mL", self.method(what)),
            budget,
        }
    }

    /// The gain of the flow cancels; its zero moves both volumes, each its own way.
    fn fraction(&self) -> Budgeted {
        let (forward, _) = self.mean(|c| c.forward_ml);
        let (reverse, _) = self.mean(|c| c.reverse_ml);
        let (_, spread) = self.mean(|c| 100.0 * c.reverse_ml / c.forward_ml);
        let (ejection, _) = self.mean(|c| c.end_s - c.start_s);
        let (closed, _) = self.mean(|c| c.next_s - c.end_s);
        let fraction = 100.0 * reverse / forward;
        let by_zero = 100.0 * (closed / forward + reverse * ejection / (forward * forward));
        let noise = 100.0 * self.mean(|c| c.noise_ml).0 * closed.max(0.0).sqrt() / forward;
        let mut budget = Budget::new().with(
            Component::normal("zero of the flow", self.instruments.u_flow_zero_ml_s)
                .sensitivity(by_zero),
        );
        budget.components.extend(noise_for(spread, noise));
        let budget = between(budget, spread, self.cycles.len());
        let method = self.method("100 (closing + leakage volume)/forward stroke volume");
        Budgeted {
            quantity: budget.widened_quantity(fraction, "%", method),
            budget,
        }
    }

    /// A time, or what follows from it with its derivative; each end is known to a step of the clock.
    fn time(
        &self,
        pick: impl Fn(&Cycle) -> f64,
        unit: &str,
        of: impl Fn(f64) -> (f64, f64),
    ) -> Quantity {
        let (time, spread) = self.mean(pick);
        let (step, _) = self.mean(|c| c.step_s);
        let (value, slope) = of(time);
        // Two ends, and the beats share them out.
        let ends = (2.0 / self.cycles.len() as f64).sqrt();
        let budget = Budget::new()
            .with(Component::resolution("step of the clock", step).sensitivity(slope * ends));
        let budget = between(budget, spread.map(|s| s * slope.abs()), self.cycles.len());
        budget.widened_quantity(value, unit, self.method("zero crossings of the flow"))
    }
}
