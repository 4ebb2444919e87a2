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
//! | pass or fail at chosen levels | [`probit_fit`], [`up_and_down`] | mean and sd of the threshold |
//!
//! Whatever cannot be computed comes back as a [`StatsError`] that says why; no function panics on any input.
//!
//! Checked in `tests/certified_statistics/` against printed tables and published analyses.

mod binomial;
mod describe;
mod error;
mod kaplan_meier;
mod location_scale;
mod logrank;
mod normal;
mod normal_censored;
mod observation;
mod probit;
mod quadrature;
mod root;
mod student;
mod tolerance;
mod tolerance_integral;
mod up_and_down;
mod weibull;

pub use binomial::{
    Limits, binomial_lower, binomial_upper, clopper_pearson, demonstrated_reliability, sample_size,
    success_run,
};
pub use describe::{Description, describe};
pub use error::StatsError;
pub use kaplan_meier::{SurvivalCurve, SurvivalStep, kaplan_meier};
pub use logrank::{LogRank, logrank};
pub use normal::{normal_cdf, normal_ln_cdf, normal_quantile};
pub use normal_censored::{NormalFit, normal_fit, normal_fit_intervals};
pub use observation::{IntervalObservation, Observation};
pub use probit::{Level, ProbitFit, probit_fit};
pub use student::student_quantile;
pub use tolerance::{
    tolerance_one_sided, tolerance_one_sided_natrella, tolerance_two_sided,
    tolerance_two_sided_howe,
};
pub use up_and_down::{Counted, UpAndDown, up_and_down};
pub use weibull::{FEW_FAILURES, WeibullFit, weibull_fit, weibull_fit_intervals};
