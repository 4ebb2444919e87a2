//! What a series of runs says, as results hold it: strengths by several distributions, competing ends, values, dose, comparisons.

use super::Interval;
use crate::uncertain::Quantity;
use serde::Serialize;

/// A distribution fitted to the strengths of a group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StrengthResult {
    /// What failed: `fracture_pressure` or `fracture_tension`.
    pub quantity: String,
    /// Its unit.
    pub unit: String,
    /// The family: `weibull`, `lognormal`, `normal`.
    pub model: String,
    /// Strengths used.
    pub n: usize,
    /// Of them failures, by value or by step.
    pub failures: usize,
    /// Of those, known by a step only.
    pub by_step: usize,
    /// Location and spread in the form of the family.
    pub parameters: Vec<NamedInterval>,
    /// Strengths below which a part of the population fails.
    pub quantiles: Vec<Quantile>,
    /// Log-likelihood: densities in the unit, probabilities of steps and of runs without failure.
    pub log_likelihood: f64,
    /// Akaike's criterion with the correction for few runs; null below four.
    pub aicc: Option<f64>,
    /// How far it lies above that of the best family.
    pub delta_aicc: Option<f64>,
    /// Whether the family describes the sample.
    pub goodness: Option<Goodness>,
    /// Why it was not checked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goodness_reason: Option<String>,
    /// What to keep in mind.
    pub remarks: Vec<String>,
}

/// A parameter by its name.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NamedInterval {
    /// Name of the parameter.
    pub name: String,
    /// Estimate and limits.
    #[serde(flatten)]
    pub interval: Interval,
}

/// A quantile.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quantile {
    /// Part of the population below.
    pub p: f64,
    /// Estimate and limits.
    #[serde(flatten)]
    pub interval: Interval,
}

/// Goodness of fit by simulation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Goodness {
    /// Correlation of the probability plot.
    pub correlation: f64,
    /// Probability of a plot as crooked as this or more so if the family holds.
    pub p: f64,
    /// Simulated samples used.
    pub draws: usize,
    /// Seed of the random numbers.
    pub seed: u64,
}

/// A point of a probability plot: Hazen's position, shifted for runs without failure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StrengthPoint {
    /// What failed.
    pub quantity: String,
    /// Failure at this value, or above it.
    pub above: f64,
    /// The same value, or the upper end of the step.
    pub up_to: f64,
    /// Part of the population below.
    pub probability: f64,
}

/// How often each cause ended runs, the others competing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IncidenceResult {
    /// The causes, `fracture` first.
    pub causes: Vec<String>,
    /// Runs ended by each.
    pub runs: Vec<usize>,
    /// Pressures at which something ended a run, kPa.
    pub pressure_kpa: Vec<f64>,
    /// Share ended by each cause up to each pressure.
    pub share: Vec<Vec<f64>>,
    /// Standard uncertainty of each share.
    pub u: Vec<Vec<f64>>,
    /// How it was computed.
    pub method: String,
}

/// A measured value over the runs of a group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ValueResult {
    /// Where it stands in a run: `diameters.after`.
    pub quantity: String,
    /// Runs that have it.
    pub n: usize,
    /// Runs that do not.
    pub without: usize,
    /// Mean with its t-interval.
    pub mean: Interval,
    /// Standard deviation; null for a single value, as a remark says.
    pub sd: Option<f64>,
    /// Median with its exact interval by order statistics.
    pub median: Interval,
    /// Smallest.
    pub min: f64,
    /// Largest.
    pub max: f64,
    /// Check of normality; null below three values or where they do not differ, as a remark says.
    pub normality: Option<Normality>,
    /// Tolerance limits on several scales; what is missing is a remark.
    pub tolerance: Vec<ValueTolerance>,
    /// What to keep in mind.
    pub remarks: Vec<String>,
    /// Values with their normal scores, for the plot.
    #[serde(skip)]
    pub plot: Vec<(f64, f64)>,
}

/// Shapiro and Wilk's test.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Normality {
    /// Statistic, near 1 for a normal sample.
    pub w: f64,
    /// Probability of one as low as this or lower for a normal population.
    pub p: f64,
}

/// Tolerance limits of a value.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ValueTolerance {
    /// `normal`, `lognormal`, or `order statistics` (no distribution assumed).
    pub scale: String,
    /// Confidence level.
    pub confidence: f64,
    /// Share of the population covered.
    pub coverage: f64,
    /// 1 or 2.
    pub sides: u8,
    /// Factor on the standard deviation; null for order statistics.
    pub k: Option<f64>,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Unit of the limits.
    pub unit: String,
}

/// How the probability of fracture rises with a dose.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DoseResult {
    /// The dose: `oversize_true_id`, `pressure` (of a staircase), or the column that the study names, without its unit.
    pub quantity: String,
    /// Unit of the dose.
    pub unit: String,
    /// `logit` or `probit`.
    pub curve: String,
    /// `maximum likelihood` or `bias-reduced`.
    pub estimate: String,
    /// Runs used.
    pub n: usize,
    /// Fractured among them.
    pub fractured: usize,
    /// Dose at which half of the frames fracture.
    pub ed50: Interval,
    /// Dose at which nine in ten do.
    pub ed90: Interval,
    /// Spread of the thresholds, in the unit of the dose; its reciprocal is the slope.
    pub spread: Quantity,
    /// Runs without fracture all lie below those with it: highest dose without, lowest with.
    pub separation: Option<(f64, f64)>,
    /// What to keep in mind.
    pub remarks: Vec<String>,
    /// Doses with their outcomes, for the plot.
    #[serde(skip)]
    pub outcomes: Vec<(f64, bool)>,
}

/// A staircase test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StaircaseResult {
    /// Frames.
    pub n: usize,
    /// The outcome counted, the one seen less often: `fractures` or `survivals`.
    pub counted: String,
    /// How many of it.
    pub count: usize,
    /// Mean threshold, kPa.
    pub mean: Quantity,
    /// Standard deviation of the threshold, kPa.
    pub sd_kpa: Option<f64>,
    /// How it was computed, or why not.
    pub method: String,
}

/// A comparison between groups, or between two states of the same frames.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Name of the test (`logrank`).
    pub name: String,
    /// What is compared: `fracture_pressure`, `diameters.after`, the name of an observation.
    pub quantity: String,
    /// Groups compared; a difference is the second less the first.
    pub groups: Vec<String>,
    /// Test statistic, where it is compared with the chi-squared distribution.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub chi2: Option<f64>,
    /// Any other statistic.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub statistic: Option<f64>,
    /// Degrees of freedom.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub df: Option<f64>,
    /// Estimate with its interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub estimate: Option<Interval>,
    /// Probability of data as far out or farther if the groups are alike (for an equivalence: if they differ by the margin).
    pub p: Option<f64>,
    /// The same adjusted for the number of pairs of groups (Holm), where several groups are compared two by two for one question.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p_adjusted: Option<f64>,
    /// What is compared and how, in words.
    pub method: String,
}
