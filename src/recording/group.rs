//! The statistics of a group of runs, as `results.json` holds them.

use super::{
    DoseResult, IncidenceResult, ObservationSummary, StaircaseResult, StrengthPoint,
    StrengthResult, ValueResult,
};
use crate::uncertain::Quantity;
use serde::Serialize;

/// A value with a confidence interval.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Interval {
    /// Estimate.
    pub value: Option<f64>,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
    /// Unit.
    pub unit: String,
    /// How it was computed.
    pub method: String,
}

/// Statistics of a group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// Name of the group: `A`, `moulded / B-22`.
    pub name: String,
    /// What the runs are grouped by: `arm`, `construction, balloon`.
    pub by: String,
    /// The runs that count, by name, in the order of the study.
    pub runs: Vec<String>,
    /// Frame runs that count.
    pub n: usize,
    /// Fractured among them.
    pub fractured: usize,
    /// Censored among them: no fracture up to their highest pressure.
    pub censored: usize,
    /// Share fractured, Clopper-Pearson interval.
    pub proportion: Interval,
    /// Fracture pressures of the fractured.
    pub fracture_pressure: PressureStatistics,
    /// Weibull with right-censoring.
    pub weibull: Option<WeibullResult>,
    /// Product-limit estimate.
    pub kaplan_meier: KaplanMeierResult,
    /// Every distribution fitted to the strengths.
    pub strength: Vec<StrengthResult>,
    /// Points of the probability plots.
    pub strength_points: Vec<StrengthPoint>,
    /// How often each cause ended runs, where the balloon ended some.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incidence: Option<IncidenceResult>,
    /// Normal tolerance limits, for arms without censoring.
    pub tolerance: Vec<ToleranceResult>,
    /// Area gain of the runs.
    pub area_gain: Option<Interval>,
    /// Diameter after.
    pub diameter_after: Option<Interval>,
    /// Measured values.
    pub values: Vec<ValueResult>,
    /// Fracture against oversize, the levels of a staircase, and what was planned.
    pub dose: Vec<DoseResult>,
    /// The staircase test, where the study declares one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub up_and_down: Option<StaircaseResult>,
    /// What else was seen of the runs.
    pub observations: Vec<ObservationSummary>,
    /// What to keep in mind.
    pub remarks: Vec<String>,
}

/// Mean and spread of fracture pressures, kPa.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PressureStatistics {
    /// Number of pressures.
    pub n: usize,
    /// Mean, its standard error as `u`.
    pub mean: Quantity,
    /// Sample standard deviation.
    pub sd: Quantity,
    /// Smallest, kPa.
    pub min_kpa: Option<f64>,
    /// Largest, kPa.
    pub max_kpa: Option<f64>,
}

/// A Weibull fit with right-censoring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeibullResult {
    /// Shape.
    pub shape: Interval,
    /// Scale, kPa.
    pub scale: Interval,
    /// Pressure at which a tenth has fractured, kPa.
    pub b10: Interval,
    /// Log-likelihood.
    pub log_likelihood: f64,
    /// Failures used.
    pub failures: usize,
}

/// A product-limit curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct KaplanMeierResult {
    /// Pressures of fracture, kPa.
    pub pressure_kpa: Vec<f64>,
    /// Share not yet fractured just after each.
    pub surviving: Vec<f64>,
    /// Lower limit of each share, log(-log); null where it cannot be had.
    pub lower: Vec<Option<f64>>,
    /// Upper limit.
    pub upper: Vec<Option<f64>>,
    /// First pressure at which half or fewer survive, kPa.
    pub median: Interval,
}

/// A one- or two-sided normal tolerance limit, kPa.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ToleranceResult {
    /// Confidence level.
    pub confidence: f64,
    /// Share of the population covered.
    pub coverage: f64,
    /// 1 or 2.
    pub sides: u8,
    /// Factor on the standard deviation.
    pub k: f64,
    /// Lower limit, kPa.
    pub lower: Option<f64>,
    /// Upper limit, kPa.
    pub upper: Option<f64>,
    /// Unit of the limits.
    pub unit: String,
}
