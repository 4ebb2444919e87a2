//! Strengths of a group by every family of distributions, with quantiles, intervals and a check of the fit.

use super::sample::Sample;
use super::stops::Stops;
use super::words::{names, percent};
use crate::recording::{
    Goodness, Interval, NamedInterval, Outcome, Quantile, StrengthPoint, StrengthResult,
};
use crate::stats::{
    FEW_FAILURES, IntervalObservation, ProfileLimits, STRENGTH_MODELS, StatsError, StrengthFit,
    StrengthModel, WEIBULL, goodness_of_fit, plot_points, strength_fit,
};
use crate::uncertain::Draws;

/// Parts of the population whose strengths are given: those that protocols and plots ask for.
const PARTS: [f64; 7] = [0.01, 0.05, 0.1, 0.5, 0.9, 0.95, 0.99];
/// Failures from which a fit is checked: of fewer no plot is crooked.
const CHECKED_FROM: usize = 5;
/// Simulated samples of a check: p is then known to 0.035 or better (binomial, at p = 0.5), to 0.015 at p = 0.05.
const DRAWS: usize = 199;
/// Strengths from which a fit is not checked by simulation: each sample costs as much as there are strengths, and of so many any family
/// that is a little wrong is refused, while the plot on its paper shows by how much.
const MANY: usize = 100;
/// Seed of every simulation; streams are told apart by the names of group, quantity and family.
pub(super) const SEED: u64 = 1;

/// Strengths of one quantity.
pub(super) struct Strengths {
    quantity: &'static str,
    unit: &'static str,
    ranges: Vec<IntervalObservation>,
}

/// Fracture pressures, and the tensions at the fracture where they are known.
pub(super) fn strengths(sample: &Sample<'_>) -> [Strengths; 2] {
    [
        Strengths {
            quantity: "fracture_pressure",
            unit: "kPa",
            ranges: sample.ranges.clone(),
        },
        Strengths {
            quantity: "fracture_tension",
            unit: "N/mm",
            ranges: tensions(sample),
        },
    ]
}

/// Probability that samples drawn from a fitted Weibull are as crooked on its paper as the fracture pressures; `None` where that is not checked.
pub(super) fn weibull_goodness(sample: &Sample<'_>) -> Option<f64> {
    let [pressures, _] = strengths(sample);
    let fit = strength_fit(&WEIBULL, &pressures.ranges).ok()?;
    let checked = pressures.goodness(fit.model, fit.failures, &sample.name);
    checked.ok().map(|goodness| goodness.p)
}

/// The tension just before the fracture, or withstood at the highest load where the frame did not break.
fn tensions(sample: &Sample<'_>) -> Vec<IntervalObservation> {
    sample
        .runs
        .iter()
        .filter_map(|run| {
            let frame = run.frame.as_ref()?;
            let positive = |t: &f64| t.is_finite() && *t > 0.0;
            if run.outcome == Outcome::Fractured {
                let tension = frame.fracture_tension.value.filter(positive)?;
                // Without an uncertainty only a lower bound is known: the pressure channel stood at its limit.
                Some(match frame.fracture_tension.u {
                    Some(_) => IntervalObservation::failure(tension),
                    None => IntervalObservation::censored(tension),
                })
            } else {
                let tension = frame.peak_tension.value.filter(positive)?;
                Some(IntervalObservation::censored(tension))
            }
        })
        .collect()
}

impl Strengths {
    /// Every family that can be fitted, and the points of the plots.
    pub fn results(
        &self,
        group: &str,
        confidence: f64,
    ) -> (Vec<StrengthResult>, Vec<StrengthPoint>) {
        let fits: Vec<StrengthFit> = STRENGTH_MODELS
            .iter()
            .filter_map(|model| strength_fit(model, &self.ranges).ok())
            .collect();
        if fits.is_empty() {
            return (Vec::new(), Vec::new());
        }
        let least = fits.iter().filter_map(StrengthFit::aicc).reduce(f64::min);
        let results = fits
            .iter()
            .map(|fit| self.result(fit, group, least, confidence))
            .collect();
        let points = plot_points(&self.ranges).unwrap_or_default();
        let points = points
            .iter()
            .map(|point| StrengthPoint {
                quantity: self.quantity.to_owned(),
                above: point.above,
                up_to: point.up_to,
                probability: point.probability,
            })
            .collect();
        (results, points)
    }

    /// The highest value that any frame saw.
    fn highest(&self) -> f64 {
        let seen = self.ranges.iter().map(|o| match o.up_to {
            f64::INFINITY => o.above,
            up_to => up_to,
        });
        seen.fold(f64::NEG_INFINITY, f64::max)
    }

    fn result(
        &self,
        fit: &StrengthFit,
        group: &str,
        least: Option<f64>,
        confidence: f64,
    ) -> StrengthResult {
        let mut remarks = Vec::new();
        if fit.failures < FEW_FAILURES {
            remarks.push(format!(
                "{} failures: the spread comes out too small on average, and limits hold less than they say.",
                fit.failures
            ));
        }
        let highest = self.highest();
        let beyond = PARTS
            .iter()
            .filter(|p| fit.quantile(**p).is_ok_and(|value| value > highest));
        let beyond: Vec<String> = beyond.map(|p| percent(*p)).collect();
        if !beyond.is_empty() {
            remarks.push(format!(
                "The quantiles of {} lie above the highest value that any frame saw ({highest:.1} {}): they rest on the family alone.",
                names(beyond.iter().map(String::as_str)),
                self.unit
            ));
        }
        let by_step = self.ranges.iter().filter(|o| o.is_step());
        let likelihood =
            "maximum likelihood, runs without fracture right-censored; likelihood-ratio limits";
        let parameters = fit.parameters(confidence).map_or_else(
            |_| Vec::new(),
            |both| {
                both.iter()
                    .map(|parameter| {
                        let unit = if parameter.has_unit { self.unit } else { "1" };
                        NamedInterval {
                            name: parameter.name.to_owned(),
                            interval: open_interval(
                                parameter.value,
                                Ok(parameter.limits),
                                confidence,
                                unit,
                                likelihood,
                            ),
                        }
                    })
                    .collect()
            },
        );
        let quantiles = PARTS
            .iter()
            .filter_map(|&p| {
                let limits = fit.quantile_limits(p, confidence);
                Some(Quantile {
                    p,
                    interval: open_interval(
                        fit.quantile(p).ok()?,
                        limits,
                        confidence,
                        self.unit,
                        likelihood,
                    ),
                })
            })
            .collect();
        let aicc = fit.aicc();
        let goodness = self.goodness(fit.model, fit.failures, group);
        StrengthResult {
            quantity: self.quantity.to_owned(),
            unit: self.unit.to_owned(),
            model: fit.model.name.to_lowercase(),
            n: fit.n,
            failures: fit.failures,
            by_step: by_step.count(),
            parameters,
            quantiles,
            log_likelihood: fit.ln_likelihood,
            aicc,
            delta_aicc: aicc.zip(least).map(|(a, least)| a - least),
            goodness_reason: goodness.as_ref().err().cloned(),
            goodness: goodness.ok(),
            remarks,
        }
    }

    fn goodness(
        &self,
        model: &'static StrengthModel,
        failures: usize,
        group: &str,
    ) -> Result<Goodness, String> {
        if failures < CHECKED_FROM {
            return Err(format!(
                "{failures} failures, of fewer than {CHECKED_FROM} no plot is crooked"
            ));
        }
        if self.ranges.len() >= MANY {
            return Err(format!(
                "of {MANY} strengths or more a fit is not checked by simulation: look at the plot on its paper"
            ));
        }
        let label = format!(
            "goodness of fit: {group}, {}, {}",
            self.quantity, model.name
        );
        let mut stream = Draws::new(SEED, &label);
        let stops = Stops::of(&self.ranges);
        let seen = |i: usize, strength: f64| stops.seen(i, strength);
        let uniform = &mut || stream.unit();
        let check = goodness_of_fit(model, &self.ranges, &seen, DRAWS, uniform)
            .map_err(|error| error.to_string())?;
        Ok(Goodness {
            correlation: check.correlation,
            p: check.p,
            draws: check.draws,
            seed: SEED,
        })
    }
}

/// An interval of which an end may stay open.
pub(super) fn open_interval(
    value: f64,
    limits: Result<ProfileLimits, StatsError>,
    confidence: f64,
    unit: &str,
    method: &str,
) -> Interval {
    let finite = |v: Option<f64>| v.filter(|v| v.is_finite());
    let (lower, upper, method) = match limits {
        Ok(limits) => {
            let (lower, upper) = (finite(limits.lower), finite(limits.upper));
            let open = lower.is_none() || upper.is_none();
            let method = if open {
                format!("{method}; a limit that the data leave open is left out")
            } else {
                method.to_owned()
            };
            (lower, upper, method)
        }
        Err(error) => (None, None, format!("{method}; no limits: {error}")),
    };
    Interval {
        value: finite(Some(value)),
        lower,
        upper,
        confidence,
        unit: unit.to_owned(),
        method,
    }
}
