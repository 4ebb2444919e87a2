//! How many values it takes until mean and scatter show that a limit is kept.

use super::refused;
use crate::recording::Finding;
use crate::stats::{
    StatsError, normal_cdf, normal_quantile, tolerance_one_sided, tolerance_power,
    tolerance_power_two_sided, tolerance_sample_size, tolerance_sample_size_two_sided,
    tolerance_two_sided,
};
use serde::Serialize;

/// Fewest values planned for: a protocol takes no tolerance limit of fewer.
pub const FEWEST_VALUES: u64 = 3;
/// Numbers of values that the power is told at, beside the planned one.
const TOLD_AT: &[u64] = &[
    3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 500, 1000, 2000,
    5000, 10_000,
];

/// The limits that values must keep.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "lowercase", tag = "side")]
pub enum Limits {
    /// An upper one: mean + k s must not pass it.
    Upper {
        /// The limit.
        limit: f64,
    },
    /// A lower one: mean − k s must not fall below it.
    Lower {
        /// The limit.
        limit: f64,
    },
    /// Both: mean ± k s must lie within them.
    Both {
        /// Lower limit.
        lower: f64,
        /// Upper limit.
        upper: f64,
    },
}

/// What is planned; limits, mean and standard deviation in `unit`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VariableOrder {
    /// The limits.
    #[serde(flatten)]
    pub limits: Limits,
    /// Mean expected of the population.
    pub mean: f64,
    /// Standard deviation expected of the population.
    pub sd: f64,
    /// Unit of all of them.
    pub unit: String,
    /// Part of the population that must keep the limits.
    pub coverage: f64,
    /// Confidence of the tolerance limits.
    pub confidence: f64,
    /// How often the criterion shall be met.
    pub power: f64,
}

impl VariableOrder {
    /// How far the limits lie from the mean, below and above it, in standard deviations; infinite where there is none.
    fn margins(&self) -> (f64, f64) {
        let below = |limit: f64| (self.mean - limit) / self.sd;
        let above = |limit: f64| (limit - self.mean) / self.sd;
        match self.limits {
            Limits::Upper { limit } => (f64::INFINITY, above(limit)),
            Limits::Lower { limit } => (below(limit), f64::INFINITY),
            Limits::Both { lower, upper } => (below(lower), above(upper)),
        }
    }

    /// The limits in words.
    pub fn limits_in_words(&self) -> String {
        let unit = &self.unit;
        match self.limits {
            Limits::Upper { limit } | Limits::Lower { limit } => format!("limit of {limit} {unit}"),
            Limits::Both { lower, upper } => format!("limits of {lower} and {upper} {unit}"),
        }
    }

    /// The normal quantile that the nearer limit must lie beyond.
    fn least_margin(&self) -> f64 {
        normal_quantile(match self.limits {
            Limits::Both { .. } => 0.5 + 0.5 * self.coverage,
            _ => self.coverage,
        })
    }
}

/// A plan by mean and scatter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Variable {
    /// What was asked.
    pub asked: VariableOrder,
    /// Part of the expected population that keeps the limits.
    pub true_share: f64,
    /// Smallest number of values.
    pub plan: PowerPoint,
    /// Power over the number of values.
    pub curve: Vec<PowerPoint>,
    /// What must hold.
    pub assumptions: Vec<&'static str>,
}

/// How often the criterion is met with so many values.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PowerPoint {
    /// Number of values.
    pub n: u64,
    /// Factor of the tolerance limit or interval.
    pub k: f64,
    /// Probability that the criterion is met.
    pub power: f64,
}

/// The smallest number of values with which the criterion is met as often as asked.
///
/// # Errors
/// An error finding where what is asked makes no sense or no number of values can do it.
pub fn variable(order: VariableOrder) -> Result<Variable, Finding> {
    let inside = |x: f64| x > 0.0 && x < 1.0;
    let VariableOrder { mean, sd, .. } = order;
    let (unit, limits) = (order.unit.as_str(), order.limits_in_words());
    let numbers = match order.limits {
        Limits::Upper { limit } | Limits::Lower { limit } => [limit, limit],
        Limits::Both { lower, upper } => [lower, upper],
    };
    let shares = [order.coverage, order.confidence, order.power];
    if numbers.iter().chain([&mean, &sd]).any(|x| !x.is_finite())
        || sd <= 0.0
        || shares.into_iter().any(|x| !inside(x))
    {
        return Err(refused(
            "plan-variable",
            format!(
                "found a {limits}, mean {mean} {unit}, sd {sd} {unit}, coverage {}, confidence {}, power {}; expected a sd above 0 and shares above 0 and below 1",
                order.coverage, order.confidence, order.power
            ),
            "for 90 % write 0.9",
        ));
    }
    let [low, high] = numbers;
    if matches!(order.limits, Limits::Both { .. }) && low >= high {
        return Err(refused(
            "plan-variable",
            format!(
                "found a lower limit of {low} {unit} and an upper one of {high} {unit}; expected the lower one below the upper one"
            ),
            "write --lower for the smaller and --upper for the larger of the two",
        ));
    }
    let (below, above) = order.margins();
    let margin = below.min(above);
    if margin <= 0.0 {
        return Err(refused(
            "plan-beyond-limit",
            format!(
                "found a mean of {mean} {unit} at or beyond the {limits}: half of the items or more do not keep it, and no number of values can show that they do"
            ),
            "expected a mean on the good side of the limit; --side upper means that values must stay below it",
        ));
    }
    let true_share = normal_cdf(above) - normal_cdf(-below);
    if margin <= order.least_margin() {
        return Err(too_small(&order, true_share));
    }
    let point = |n: u64| point(n, &order);
    let (coverage, confidence, power) = (order.coverage, order.confidence, order.power);
    let needed = match order.limits {
        Limits::Both { .. } => {
            tolerance_sample_size_two_sided((below, above), coverage, confidence, power)
        }
        _ => tolerance_sample_size(margin, coverage, confidence, power),
    }
    .map_err(|error| {
        refused(
            "plan-too-many",
            format!("no number of values is found: {error} (the share that keeps the {limits} is {true_share:.6}, asked are {coverage})"),
            FARTHER,
        )
    })?;
    let planned = point(needed.max(FEWEST_VALUES))?;
    let mut told: Vec<u64> = TOLD_AT
        .iter()
        .copied()
        .filter(|n| *n <= 2 * planned.n)
        .collect();
    told.extend([planned.n.saturating_sub(1).max(FEWEST_VALUES), planned.n]);
    told.sort_unstable();
    told.dedup();
    let curve = told.into_iter().map(point).collect::<Result<_, _>>()?;
    Ok(Variable {
        true_share,
        plan: planned,
        curve,
        assumptions: vec![
            "the values are a random sample of one normal population with the mean and the sd given; a sd taken too small makes the number too small",
            match order.limits {
                Limits::Both { .. } => {
                    "the criterion is mean - k s and mean + k s within the limits, k of the exact two-sided tolerance interval (ISO 16269-6); power from the joint distribution of mean and s"
                }
                _ => {
                    "the criterion is mean + k s (lower limit: mean - k s) within the limit, k of the exact one-sided tolerance limit (ISO 16269-6); power from the noncentral t distribution"
                }
            },
            "every item gives a value: an item without one (no fracture up to the highest pressure) needs the Weibull criterion and `plan power`",
        ],
        asked: order,
    })
}

/// What mends most orders that no number of values can meet.
const FARTHER: &str =
    "expected a mean farther from the limits, a smaller scatter or a smaller coverage";

/// The share that keeps the limits is not more than what is asked, or for two of them: a limit lies so near that an interval about the mean
/// with the part asked does not end before it.
fn too_small(order: &VariableOrder, true_share: f64) -> Finding {
    let (mean, sd, unit) = (order.mean, order.sd, &order.unit);
    let limits = order.limits_in_words();
    let seen = format!(
        "with a mean of {mean} {unit} and a sd of {sd} {unit} the share {true_share:.4} keeps the {limits}"
    );
    let why = match order.limits {
        Limits::Both { .. } => format!(
            ", and the middle {} of the population reach from {:.4} to {:.4} {unit}, not within them; the criterion would hardly ever be met, however many values there are",
            order.coverage,
            mean - order.least_margin() * sd,
            mean + order.least_margin() * sd,
        ),
        _ => format!(
            ", which is not more than the {} asked; the criterion would be met in {:.4} of all studies at most, however many values there are",
            order.coverage,
            1.0 - order.confidence
        ),
    };
    refused("plan-share-too-small", seen + &why, FARTHER)
}

fn point(n: u64, order: &VariableOrder) -> Result<PowerPoint, Finding> {
    let failed = |error: StatsError| Finding::error("plan-variable", error.to_string());
    let (coverage, confidence) = (order.coverage, order.confidence);
    let (below, above) = order.margins();
    let (k, power) = match order.limits {
        Limits::Both { .. } => (
            tolerance_two_sided(n, coverage, confidence),
            tolerance_power_two_sided(n, (below, above), coverage, confidence),
        ),
        _ => (
            tolerance_one_sided(n, coverage, confidence),
            tolerance_power(n, below.min(above), coverage, confidence),
        ),
    };
    Ok(PowerPoint {
        n,
        k: k.map_err(failed)?,
        power: power.map_err(failed)?,
    })
}
