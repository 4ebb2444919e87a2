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
    /// Between what it can lie at all, in its unit.
    pub possible: (f64, f64),
}

/// What is a size, or a pressure to break.
const POSITIVE: (f64, f64) = (0.0, f64::INFINITY);
/// Anything.
const ANY: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);
/// A gain of area: no area is left at -1.
const GAIN: (f64, f64) = (-1.0, f64::INFINITY);
/// A recoil: at 1 no diameter is left; a frame that opened further after it was let go has one below 0.
const RECOIL: (f64, f64) = (f64::NEG_INFINITY, 1.0);

/// Every such quantity. A newcomer is a line here.
pub(super) const VALUES: &[Value] = &[
    Value {
        name: "diameters.after",
        of: |run| Some(&run.diameters.as_ref()?.after),
        possible: POSITIVE,
    },
    Value {
        name: "diameters.set",
        of: |run| Some(&run.diameters.as_ref()?.set),
        possible: ANY,
    },
    Value {
        name: "diameters.recoil",
        of: |run| Some(&run.diameters.as_ref()?.recoil),
        possible: RECOIL,
    },
    Value {
        name: "areas.gain",
        of: |run| Some(&run.areas.as_ref()?.gain),
        possible: GAIN,
    },
    Value {
        name: "flow.after.effective_orifice_area",
        of: |run| Some(&run.flow.get("after")?.effective_orifice_area),
        possible: POSITIVE,
    },
];

/// Figures of the frame under load, compared between the states of a frame.
pub(super) const FRAME_VALUES: &[Value] = &[
    Value {
        name: "frame.compliance",
        of: |run| Some(&run.frame.as_ref()?.compliance),
        possible: POSITIVE,
    },
    Value {
        name: "frame.peak_load",
        of: |run| Some(&run.frame.as_ref()?.peak_load),
        possible: POSITIVE,
    },
    Value {
        name: "frame.peak_tension",
        of: |run| Some(&run.frame.as_ref()?.peak_tension),
        possible: POSITIVE,
    },
    Value {
        name: "frame.peak_force",
        of: |run| Some(&run.frame.as_ref()?.peak_force),
        possible: POSITIVE,
    },
    Value {
        name: "frame.yield_load",
        of: |run| Some(&run.frame.as_ref()?.yield_load),
        possible: POSITIVE,
    },
    Value {
        name: "frame.work",
        of: |run| Some(&run.frame.as_ref()?.work),
        possible: ANY,
    },
    Value {
        name: "frame.loop_work",
        of: |run| Some(&run.frame.as_ref()?.loop_work),
        possible: ANY,
    },
];

/// Scales of limits that assume a distribution.
const NORMAL: &str = "normal";
const LOGNORMAL: &str = "lognormal";
/// Confidence and coverage of the limits given: those that protocols ask for most (common practice, no source).
const LEVELS: [(f64, f64); 2] = [(0.95, 0.90), (0.95, 0.95)];
/// How many times beyond every value seen a lognormal limit may lie before it says only that there are too few values: a factor that no
/// series of one kind of frame spans (common practice, no source).
const FAR: f64 = 10.0;
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
    let runs = sample.runs.len();
    let pressures = complete.then(|| {
        let name = "fracture_pressure";
        result(name, &pressures, "kPa", POSITIVE, runs, confidence)
    });
    let measured = VALUES.iter().map(|value| {
        let (values, unit) = (value.all(&sample.runs), value.unit(&sample.runs));
        result(value.name, &values, &unit, value.possible, runs, confidence)
    });
    pressures.into_iter().chain(measured).flatten().collect()
}

fn result(
    name: &str,
    values: &[f64],
    unit: &str,
    possible: (f64, f64),
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
    let without_logarithm = values.iter().filter(|v| **v <= 0.0).count();
    if without_logarithm > 0 && !tolerance.is_empty() {
        remarks.push(format!(
            "Lognormal limits: not told, {without_logarithm} of {} values are not above zero and have no logarithm.",
            d.n
        ));
    }
    remarks.extend(beyond(name, &tolerance, (d.min, d.max), possible));
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
            middle(values, confidence),
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

/// Exact limits of the median.
fn middle(values: &[f64], confidence: f64) -> Result<Limits, StatsError> {
    order_limits(values, 0.5, 0.5 + 0.5 * confidence).and_then(|limits| {
        limits.lower.zip(limits.upper).map_or(
            Err(StatsError::TooFew {
                what: "values",
                // Half to the power n on either side is then no more than what the confidence leaves.
                needed: (2.0 / (1.0 - confidence)).log2().ceil() as usize,
                found: values.len(),
            }),
            |(lower, upper)| Ok(Limits { lower, upper }),
        )
    })
}

/// What speaks against limits that reach where no value can be, or far beyond all that were seen.
fn beyond(
    name: &str,
    limits: &[ValueTolerance],
    (min, max): (f64, f64),
    (least, most): (f64, f64),
) -> Vec<String> {
    let of = |scale: &str| {
        let ends = limits.iter().filter(|limit| limit.scale == scale);
        let low = ends.clone().filter_map(|limit| limit.lower);
        let high = ends.filter_map(|limit| limit.upper);
        let (low, high) = (low.fold(max, f64::min), high.fold(min, f64::max));
        if low < least {
            Some(format!(
                "The {scale} limits reach below {least}, where {name} cannot be: too few values, or not of this distribution."
            ))
        } else if high > most {
            Some(format!(
                "The {scale} limits reach above {most}, where {name} cannot be: too few values, or not of this distribution."
            ))
        } else if scale == LOGNORMAL && (low < min / FAR || high > max * FAR) {
            Some(format!(
                "The {scale} limits reach more than {FAR} times beyond every value seen: they say only that the values are too few for logarithms that scatter so much."
            ))
        } else {
            None
        }
    };
    [NORMAL, LOGNORMAL].into_iter().filter_map(of).collect()
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
            (NORMAL, NormalScale::Values),
            (LOGNORMAL, NormalScale::Logarithms),
        ] {
            // Logarithms of values that are not all above zero do not exist, as a remark says.
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
