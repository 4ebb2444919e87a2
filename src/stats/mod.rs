//! Statistics of bench runs: proportions, tolerance limits, censored strengths, comparison of groups.
//!
//! Values carry whatever unit the caller's values have; nothing here knows a pressure. A run that ended without failure is an
//! [`Observation`] with `censored` set: it counts in every function as "not failed up to here", never as a failure, never as nothing.
//!
//! | question | call | gives |
//! |---|---|---|
//! | what do these values look like | [`describe`] | [`Description`] with the t-interval of the mean |
//! | `x` of `n` failed: what is the proportion | [`clopper_pearson`], [`binomial_lower`], [`binomial_upper`] | exact limits |
//! | how many runs without (or with `f`) failures show a reliability | [`success_run`], [`sample_size`] | a number of runs |
//! | what reliability do these runs show | [`demonstrated_reliability`] | a proportion |
//! | where does 95 % of the population lie, with 95 % confidence | [`tolerance_one_sided`], [`tolerance_two_sided`] | factor `k` of `mean ± k sd` |
//! | what distribution do censored strengths follow | [`weibull_fit`], [`normal_fit`] and the `_intervals` forms | fit, intervals, quantiles |
//! | the same without assuming a distribution | [`kaplan_meier`] | [`SurvivalCurve`] |
//! | do groups of censored strengths differ | [`logrank`] | chi-squared, p |
//! | do groups of values differ | [`one_way`] | analysis of variance |
//! | do two methods agree | [`agreement`], [`repeated_agreement`], [`deming_fit`] | bias, limits of agreement, line; with intervals |
//! | what do parts, operators and repeats add to the scatter | [`gauge_rr`] | variance components with intervals |
//! | what mean do these counts allow | [`poisson_limits`] | exact limits |
//! | pass or fail at chosen levels | [`probit_fit`], [`up_and_down`] | mean and sd of the threshold |
//!
//! Whatever cannot be computed comes back as a [`StatsError`] that says why; no function panics on any input.
//!
//! Checked in `tests/certified_statistics/` against printed tables and published analyses.

mod agreement;
mod anova;
mod binomial;
mod deming;
mod describe;
mod error;
mod gauge;
mod kaplan_meier;
mod location_scale;
mod logrank;
mod mean_squares;
mod normal;
mod normal_censored;
mod observation;
mod poisson;
mod probit;
mod quadrature;
mod quantiles;
mod root;
mod student;
mod tolerance;
mod tolerance_integral;
mod up_and_down;
mod weibull;

pub use agreement::{
    Agreement, AgreementLimit, FEWEST_PAIRS, LIMIT_SDS, RepeatedAgreement, Trend, agreement,
    repeated_agreement, single_reading_sd,
};
pub use anova::{OneWay, one_way};
pub use binomial::{
    Limits, binomial_lower, binomial_upper, clopper_pearson, demonstrated_reliability, sample_size,
    success_run,
};
pub use deming::{DemingFit, DemingLine, deming, deming_fit};
pub use describe::{Description, describe, median};
pub use error::StatsError;
pub use gauge::{GaugeModel, GaugeRow, GaugeRr, POOL_ABOVE_P, VarianceComponent, gauge_rr};
pub use kaplan_meier::{SurvivalCurve, SurvivalStep, kaplan_meier};
pub use logrank::{LogRank, logrank};
pub use normal::{normal_cdf, normal_ln_cdf, normal_quantile};
pub use normal_censored::{NormalFit, normal_fit, normal_fit_intervals};
pub use observation::{IntervalObservation, Observation};
pub use poisson::poisson_limits;
pub use probit::{Level, ProbitFit, probit_fit};
pub use quantiles::{chi_squared_quantile, f_quantile, f_upper_tail};
pub use student::student_quantile;
pub use tolerance::{
    tolerance_one_sided, tolerance_one_sided_natrella, tolerance_two_sided,
    tolerance_two_sided_howe,
};
pub use up_and_down::{Counted, UpAndDown, up_and_down};
pub use weibull::{FEW_FAILURES, WeibullFit, weibull_fit, weibull_fit_intervals};
