//! How many values it takes until mean and scatter show that a limit is kept.

use super::refused;
use crate::recording::Finding;
use crate::stats::{
    StatsError, normal_cdf, normal_quantile, tolerance_one_sided, tolerance_power,
    tolerance_sample_size,
};
use serde::Serialize;

/// Fewest values planned for: a protocol takes no tolerance limit of fewer.
pub const FEWEST_VALUES: u64 = 3;
/// Numbers of values that the power is told at, beside the planned one.
const TOLD_AT: &[u64] = &[
    3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 500, 1000, 2000,
    5000, 10_000,
];

/// Which side of the limit the values must lie on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The limit is an upper one: mean + k s must not pass it.
    Upper,
    /// The limit is a lower one: mean − k s must not fall below it.
    Lower,
}

/// What is planned; limit, mean and standard deviation in `unit`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VariableOrder {
    /// The limit.
    pub limit: f64,
    /// Mean expected of the population.
    pub mean: f64,
    /// Standard deviation expected of the population.
    pub sd: f64,
    /// Unit of the three.
    pub unit: String,
    /// Side of the limit.
    pub side: Side,
    /// Part of the population that must keep the limit.
    pub coverage: f64,
    /// Confidence of the tolerance limit.
    pub confidence: f64,
    /// How often the criterion shall be met.
    pub power: f64,
}

/// A plan by mean and scatter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Variable {
    /// What was asked.
    pub asked: VariableOrder,
    /// Part of the expected population that keeps the limit.
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
    /// Factor of the one-sided tolerance limit.
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
    let VariableOrder {
        limit, mean, sd, ..
    } = order;
    let unit = order.unit.as_str();
    let shares = [order.coverage, order.confidence, order.power];
    if [limit, mean, sd].iter().any(|x| !x.is_finite())
        || sd <= 0.0
        || shares.into_iter().any(|x| !inside(x))
    {
        return Err(refused(
            "plan-variable",
            format!(
                "found limit {limit} {unit}, mean {mean} {unit}, sd {sd} {unit}, coverage {}, confidence {}, power {}; expected a sd above 0 and shares above 0 and below 1",
                order.coverage, order.confidence, order.power
            ),
            "for 90 % write 0.9",
        ));
    }
    let margin = match order.side {
        Side::Upper => (limit - mean) / sd,
        Side::Lower => (mean - limit) / sd,
    };
    if margin <= 0.0 {
        return Err(refused(
            "plan-beyond-limit",
            format!(
                "found a mean of {mean} {unit} at or beyond the limit of {limit} {unit}: half of the items or more do not keep it, and no number of values can show that they do"
            ),
            "expected a mean on the good side of the limit; --side upper means that values must stay below it",
        ));
    }
    let true_share = normal_cdf(margin);
    if margin <= normal_quantile(order.coverage) {
        return Err(refused(
            "plan-share-too-small",
            format!(
                "with a mean of {mean} {unit} and a sd of {sd} {unit} the share {true_share:.4} keeps the limit of {limit} {unit}, which is not more than the {} asked; the criterion would be met in {:.4} of all studies at most, however many values there are",
                order.coverage,
                1.0 - order.confidence
            ),
            "expected a mean farther from the limit, a smaller scatter or a smaller coverage",
        ));
    }
    let point = |n: u64| point(n, &order, margin);
    let needed = tolerance_sample_size(margin, order.coverage, order.confidence, order.power)
        .map_err(|error| {
            refused(
                "plan-too-many",
                format!("no number of values is found: {error} (the share that keeps the limit is {true_share:.6}, asked are {})", order.coverage),
                "expected a mean farther from the limit, a smaller scatter or a smaller coverage",
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
            "the criterion is mean + k s (lower limit: mean - k s) within the limit, k of the exact one-sided tolerance limit (ISO 16269-6); power from the noncentral t distribution",
            "every item gives a value: an item without one (no fracture up to the highest pressure) needs the Weibull criterion and `plan power`",
        ],
        asked: order,
    })
}

fn point(n: u64, order: &VariableOrder, margin: f64) -> Result<PowerPoint, Finding> {
    let failed = |error: StatsError| Finding::error("plan-variable", error.to_string());
    let (coverage, confidence) = (order.coverage, order.confidence);
    let k = tolerance_one_sided(n, coverage, confidence).map_err(failed)?;
    Ok(PowerPoint {
        n,
        k,
        power: tolerance_power(n, margin, coverage, confidence).map_err(failed)?,
    })
}
