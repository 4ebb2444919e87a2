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
//! | where does 95 % of the population lie, with 95 % confidence | [`tolerance_limits`]; [`tolerance_one_sided`], [`tolerance_two_sided`] | limits; factor `k` of `mean ± k sd` |
//! | the same without assuming a distribution | [`order_limits`], [`order_sample_size`] | values of the sample |
//! | is a sample normal | [`shapiro_wilk`], [`normal_plot`] | W, p, points |
//! | how many values, or how many more runs, | [`tolerance_sample_size`], [`tolerance_sample_size_two_sided`], [`tolerance_runs_at`], [`tolerance_fails_at`], [`further_runs`] | a number of runs |
//! | what distribution do censored strengths follow | [`strength_fit`] of [`STRENGTH_MODELS`], [`plot_points`], [`goodness_of_fit`] | fit, intervals, AICc, plot |
//! | intervals for a small sample | [`calibrate_quantile`] | limits by simulation |
//! | survival without assuming a distribution | [`kaplan_meier`], of steps [`turnbull`] | [`SurvivalCurve`], [`TurnbullCurve`] |
//! | how often does each of several causes end a run | [`cumulative_incidence`] | incidence of each cause |
//! | do groups of censored strengths differ | [`logrank`], within a family [`compare_strengths`] | chi-squared, p |
//! | which of several groups differ, of tests two by two | [`holm`] | adjusted p |
//! | do groups of values differ | [`one_way`], by ranks [`kruskal_wallis`] | analysis of variance; H, p |
//! | do two samples differ, are they equivalent | [`welch`], [`mann_whitney`], [`hodges_lehmann`]; pairs [`paired_t`], [`signed_rank`], [`paired_shift`] | difference, p, interval |
//! | what interval has any statistic | [`bootstrap`], of two samples [`bootstrap_difference`] | percentile and BCa limits |
//! | do two proportions differ, do they follow a trend | [`fisher_exact`], [`proportion_trend`] | exact p |
//! | do two methods agree | [`agreement`], [`repeated_agreement`], [`deming_fit`] | bias, limits of agreement, line; with intervals |
//! | what do parts, operators and repeats add to the scatter | [`gauge_rr`] | variance components with intervals |
//! | what mean do these counts allow, do two rates differ | [`poisson_limits`], [`poisson_ratio`] | exact limits |
//! | pass or fail at chosen levels | [`dose_fit`], [`up_and_down`] | level of any failure rate; mean and sd of the threshold |
//! | does a measured value conform | [`guarded_decision`] | decision, probability |
//!
//! What needs chance takes it as a closure of uniform numbers in [0, 1): nothing here draws by itself.
//!
//! Whatever cannot be computed comes back as a [`StatsError`] that says why; no function panics on any input.
//!
//! Checked in `tests/certified_statistics/` against printed tables and published analyses.

mod agreement;
mod anova;
mod binomial;
mod bootstrap;
mod conformity;
mod cumulative_incidence;
mod deming;
mod describe;
mod dose;
mod error;
mod fisher;
mod gauge;
mod holm;
mod kaplan_meier;
mod levels;
mod location_scale;
mod logrank;
mod mean_squares;
mod normal;
mod normal_family;
mod observation;
mod order_limits;
mod plan;
mod poisson;
mod quadrature;
mod quantiles;
mod rank_tests;
mod ranks;
mod root;
mod shapiro_wilk;
mod smallest;
mod smallest_extreme;
mod strength;
mod student;
mod t_tests;
mod tolerance;
mod tolerance_integral;
mod tolerance_limits;
mod trend;
mod turnbull;
mod up_and_down;

pub use agreement::{
    Agreement, AgreementLimit, FEWEST_PAIRS, LIMIT_SDS, RepeatedAgreement, Trend, agreement,
    repeated_agreement, single_reading_sd,
};
pub use anova::{OneWay, one_way};
pub use binomial::{
    Limits, binomial_lower, binomial_upper, clopper_pearson, demonstrated_reliability, sample_size,
    success_run,
};
pub use bootstrap::{Bootstrap, bootstrap, bootstrap_difference};
pub use conformity::{Conformity, GuardedDecision, Tolerance, guarded_decision};
pub use cumulative_incidence::{
    CauseObservation, CumulativeIncidence, IncidenceStep, cumulative_incidence,
};
pub use deming::{DemingFit, DemingLine, deming, deming_fit};
pub use describe::{Description, describe, median};
pub use dose::{DoseCurve, DoseEstimate, DoseFit, Separation, dose_fit, separation};
pub use error::StatsError;
pub use fisher::{FisherExact, fisher_exact};
pub use gauge::{GaugeModel, GaugeRow, GaugeRr, POOL_ABOVE_P, VarianceComponent, gauge_rr};
pub use holm::holm;
pub use kaplan_meier::{SurvivalCurve, SurvivalStep, kaplan_meier};
pub use levels::Level;
pub use logrank::{LogRank, logrank};
pub use normal::{normal_cdf, normal_ln_cdf, normal_quantile};
pub use observation::{IntervalObservation, Observation};
pub use order_limits::{OrderLimits, order_confidence, order_limits, order_sample_size};
pub use plan::{
    Sides, further_runs, success_run_uniform_prior, tolerance_fails_at, tolerance_power,
    tolerance_power_two_sided, tolerance_runs_at, tolerance_sample_size,
    tolerance_sample_size_two_sided,
};
pub use poisson::{RateRatio, poisson_limits, poisson_ratio};
pub use quantiles::{chi_squared_quantile, f_quantile, f_upper_tail};
pub use rank_tests::{
    EXACT_UP_TO, KruskalWallis, RankTest, Shift, hodges_lehmann, kruskal_wallis, mann_whitney,
    paired_shift, signed_rank,
};
pub use shapiro_wilk::{ShapiroWilk, normal_plot, shapiro_wilk};
pub use smallest_extreme::FEW_FAILURES;
pub use strength::{
    CalibratedFalls, GoodnessOfFit, LOGNORMAL, LikelihoodRatio, NORMAL, ParameterEstimate,
    ParameterForm, PlotPoint, ProfileLimits, STRENGTH_MODELS, StrengthComparison, StrengthFit,
    StrengthModel, WEIBULL, calibrate_quantile, compare_strengths, goodness_of_fit, plot_points,
    strength_fit,
};
pub use student::student_quantile;
pub use t_tests::{Equivalence, MeanDifference, paired_t, welch};
pub use tolerance::{
    tolerance_one_sided, tolerance_one_sided_natrella, tolerance_two_sided,
    tolerance_two_sided_howe,
};
pub use tolerance_limits::{NormalScale, ToleranceLimits, tolerance_limits};
pub use trend::{ProportionTrend, TrendGroup, proportion_trend};
pub use turnbull::{TurnbullCurve, TurnbullStep, turnbull};
pub use up_and_down::{Counted, UpAndDown, up_and_down};
