//! Measured values of a group: mean and median, normality, tolerance limits on several scales.

use super::quantity::kept;
use super::sample::Sample;
use super::strength::{FEWEST_FOR_TOLERANCE, interval};
use super::words::probability;
use crate::recording::{Normality, RunResult, ValueResult, ValueTolerance};
use crate::stats::{
    Limits, NormalScale, StatsError, describe, median, normal_plot, order_limits, shapiro_wilk,
    tolerance_limits,
};
use crate::uncertain::Quantity;

/// A quantity of a run that is summed up and compared.
pub(super) struct Value {
    /// Where it stands in a run.
    pub name: &'static str,
    /// The quantity.
    pub of: fn(&RunResult) -> Option<&Quantity>,
}

/// Every such quantity. A newcomer is a line here.
pub(super) const VALUES: &[Value] = &[
    Value {
        name: "diameters.after",
        of: |run| Some(&run.diameters.as_ref()?.after),
    },
    Value {
        name: "diameters.set",
        of: |run| Some(&run.diameters.as_ref()?.set),
    },
    Value {
        name: "diameters.recoil",
        of: |run| Some(&run.diameters.as_ref()?.recoil),
    },
    Value {
        name: "areas.gain",
        of: |run| Some(&run.areas.as_ref()?.gain),
    },
    Value {
        name: "flow.after.effective_orifice_area",
        of: |run| Some(&run.flow.get("after")?.effective_orifice_area),
    },
];

/// Confidence and coverage of the limits given: those that protocols ask for most (common practice, no source).
const LEVELS: [(f64, f64); 2] = [(0.95, 0.90), (0.95, 0.95)];
/// p of normality below which limits that assume it are called doubtful.
const DOUBTFUL_P: f64 = 0.05;

impl Value {
    /// The finite value of a run.
    pub fn at(&self, run: &RunResult) -> Option<f64> {
        (self.of)(run)?.value.filter(|v| v.is_finite()).map(kept)
    }

    /// The finite values of the runs that have one.
    pub fn all(&self, runs: &[&RunResult]) -> Vec<f64> {
        runs.iter().filter_map(|run| self.at(run)).collect()
    }

    /// Unit of the first run that has the quantity.
    pub fn unit(&self, runs: &[&RunResult]) -> String {
        let first = runs.iter().find_map(|run| (self.of)(run));
        first.map_or_else(String::new, |q| q.unit.clone())
    }
}

/// Every quantity that some run has, and the fracture pressures where every run that counts has one.
pub(super) fn values(sample: &Sample<'_>, confidence: f64) -> Vec<ValueResult> {
    let pressures = sample.fracture_pressures();
    let complete = pressures.len() == sample.runs.len() && !sample.by_step();
    let pressures = complete.then(|| ("fracture_pressure", pressures, "kPa".to_owned()));
    let measured = VALUES.iter().map(|value| {
        (
            value.name,
            value.all(&sample.runs),
            value.unit(&sample.runs),
        )
    });
    pressures
        .into_iter()
        .chain(measured)
        .filter_map(|(name, values, unit)| {
            result(name, &values, &unit, sample.runs.len(), confidence)
        })
        .collect()
}

fn result(
    name: &str,
    values: &[f64],
    unit: &str,
    runs: usize,
    confidence: f64,
) -> Option<ValueResult> {
    let d = describe(values).ok()?;
    let mut remarks = Vec::new();
    let alike = d.sd == Some(0.0);
    if alike {
        remarks.push("The values do not differ: their scatter is below what was resolved, so no interval of the mean, no check of normality and no tolerance limits are given.".to_owned());
    }
    let mut untold = |what: &str, why: StatsError| {
        if !alike {
            remarks.push(format!("{what}: not told, {why}."));
        }
    };
    if d.sd.is_none() {
        let why = StatsError::TooFew {
            what: "values",
            needed: 2,
            found: d.n,
        };
        untold("Standard deviation", why);
    }
    let normality = match shapiro_wilk(values) {
        Ok(test) => Some(Normality {
            w: test.w,
            p: test.p,
        }),
        Err(why) => {
            untold("Normality", why);
            None
        }
    };
    let tolerance = tolerance(values, unit).unwrap_or_else(|why| {
        untold("Tolerance limits", why);
        Vec::new()
    });
    if let Some(test) = normality.filter(|test| test.p < DOUBTFUL_P) {
        remarks.push(format!(
            "Not like a normal sample (p = {}): the normal limits are doubtful.",
            probability(test.p)
        ));
    }
    let logarithms: Vec<f64> = values.iter().map(|v| v.ln()).collect();
    if let Ok(test) = shapiro_wilk(&logarithms)
        && test.p < DOUBTFUL_P
    {
        remarks.push(format!(
            "The logarithms are not like a normal sample (p = {}): the lognormal limits are doubtful.",
            probability(test.p)
        ));
    }
    let middle = order_limits(values, 0.5, 0.5 + 0.5 * confidence).and_then(|limits| {
        limits.lower.zip(limits.upper).map_or(
            Err(StatsError::TooFew {
                what: "values",
                // Half to the power n on either side is then no more than what the confidence leaves.
                needed: (2.0 / (1.0 - confidence)).log2().ceil() as usize,
                found: d.n,
            }),
            |(lower, upper)| Ok(Limits { lower, upper }),
        )
    });
    Some(ValueResult {
        quantity: name.to_owned(),
        n: d.n,
        without: runs - d.n,
        mean: interval(
            d.mean,
            d.mean_interval(confidence),
            confidence,
            unit,
            "mean; t-interval of the mean",
        ),
        sd: d.sd,
        median: interval(
            median(values)?,
            middle,
            confidence,
            unit,
            "median; exact limits by order statistics",
        ),
        min: d.min,
        max: d.max,
        normality,
        tolerance,
        remarks,
        plot: normal_plot(values).unwrap_or_default(),
    })
}

/// Limits that hold a part of the population: normal, of logarithms, and by order statistics where there are enough values.
fn tolerance(values: &[f64], unit: &str) -> Result<Vec<ValueTolerance>, StatsError> {
    if values.len() < FEWEST_FOR_TOLERANCE {
        return Err(StatsError::TooFew {
            what: "values",
            needed: FEWEST_FOR_TOLERANCE,
            found: values.len(),
        });
    }
    if values.windows(2).all(|pair| pair.first() == pair.last()) {
        return Err(StatsError::NoScatter);
    }
    let mut limits = Vec::new();
    for (confidence, coverage) in LEVELS {
        let mut add =
            |scale: &str, sides: u8, k: Option<f64>, lower: Option<f64>, upper: Option<f64>| {
                limits.push(ValueTolerance {
                    scale: scale.to_owned(),
                    confidence,
                    coverage,
                    sides,
                    k,
                    lower,
                    upper,
                    unit: unit.to_owned(),
                });
            };
        for (name, scale) in [
            ("normal", NormalScale::Values),
            ("lognormal", NormalScale::Logarithms),
        ] {
            // Logarithms of values that are not all above zero do not exist.
            if let Ok(found) = tolerance_limits(values, coverage, confidence, scale) {
                let (one, two) = (Some(found.k_one_sided), Some(found.k_two_sided));
                add(name, 1, one, Some(found.lower), None);
                add(name, 1, one, None, Some(found.upper));
                add(name, 2, two, Some(found.both.lower), Some(found.both.upper));
            }
        }
        if let Ok(found) = order_limits(values, coverage, confidence) {
            if found.lower.is_some() {
                add("order statistics", 1, None, found.lower, None);
                add("order statistics", 1, None, None, found.upper);
            }
            if let Some(both) = found.both {
                add(
                    "order statistics",
                    2,
                    None,
                    Some(both.lower),
                    Some(both.upper),
                );
            }
        }
    }
    Ok(limits)
}
