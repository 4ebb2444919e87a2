//! Proportions: exact limits and numbers of runs.

use statrs::function::beta::checked_beta_reg;

use super::error::{StatsError, check_probability};
use super::root::root_between;
use super::smallest::smallest;

/// Lower and upper limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
}

/// Largest number of runs taken: up to here the incomplete beta function is good to ten digits, and no bench has seen more.
const MOST_RUNS: u64 = 10_000;
/// Largest number of runs without any failure that [`sample_size`] will name; that formula holds for any.
const MOST_WITHOUT_FAILURE: u64 = 1_000_000_000;

fn check_counts(events: u64, n: u64) -> Result<(), StatsError> {
    if n == 0 {
        return Err(StatsError::TooFew {
            what: "runs",
            needed: 1,
            found: 0,
        });
    }
    if n > MOST_RUNS {
        return Err(StatsError::OutOfRange {
            what: "the number of runs",
            range: "at most 10000",
            found: n as f64,
        });
    }
    if events > n {
        return Err(StatsError::OutOfRange {
            what: "the number of events",
            range: "at most the number of runs",
            found: events as f64,
        });
    }
    Ok(())
}

/// Regularised incomplete beta function; `NaN` where it cannot be computed.
pub(super) fn beta_reg(a: f64, b: f64, x: f64) -> f64 {
    checked_beta_reg(a, b, x).unwrap_or(f64::NAN)
}

/// Quantile of the beta distribution, by inversion of the incomplete beta function.
fn beta_quantile(a: f64, b: f64, p: f64) -> Result<f64, StatsError> {
    root_between(|x| beta_reg(a, b, x) - p, 0.0, 1.0).ok_or(StatsError::NotConverged {
        what: "the beta quantile",
    })
}

/// One-sided lower limit of a proportion from `events` of `n` (Clopper & Pearson 1934). Zero events give 0; all give `(1 - confidence)^(1/n)`.
pub fn binomial_lower(events: u64, n: u64, confidence: f64) -> Result<f64, StatsError> {
    check_counts(events, n)?;
    check_probability("the confidence", confidence)?;
    let alpha = 1.0 - confidence;
    match events {
        0 => Ok(0.0),
        x if x == n => Ok((alpha.ln() / n as f64).exp()),
        x => beta_quantile(x as f64, (n - x) as f64 + 1.0, alpha),
    }
}

/// One-sided upper limit of a proportion from `events` of `n` (Clopper & Pearson 1934).
pub fn binomial_upper(events: u64, n: u64, confidence: f64) -> Result<f64, StatsError> {
    check_counts(events, n)?;
    // The complement has the complementary limit; small proportions keep their relative precision either way.
    check_probability("the confidence", confidence)?;
    match events {
        x if x == n => Ok(1.0),
        0 => Ok(-((1.0 - confidence).ln() / n as f64).exp_m1()),
        x => beta_quantile(x as f64 + 1.0, (n - x) as f64, confidence),
    }
}

/// Two-sided exact limits of a proportion from `events` of `n` (Clopper & Pearson 1934, Biometrika 26:404).
///
/// The coverage is at least `confidence` for every true proportion, also for none or all of `n`.
pub fn clopper_pearson(events: u64, n: u64, confidence: f64) -> Result<Limits, StatsError> {
    check_probability("the confidence", confidence)?;
    let one_sided = 0.5 + 0.5 * confidence;
    Ok(Limits {
        lower: binomial_lower(events, n, one_sided)?,
        upper: binomial_upper(events, n, one_sided)?,
    })
}

/// Number of runs, all without failure, that show `reliability` with `confidence`: `ceil(ln(1 - C) / ln R)`.
///
/// This is the classical success-run number (59 for 95/95). The variant with a uniform prior needs one run fewer and is not used here.
pub fn success_run(reliability: f64, confidence: f64) -> Result<u64, StatsError> {
    sample_size(reliability, confidence, 0)
}

/// Smallest number of runs that shows `reliability` with `confidence` if not more than `failures` of them fail: the smallest `n` with
/// binomial probability `P(at most f failures; n, 1 - R) <= 1 - C`.
pub fn sample_size(reliability: f64, confidence: f64, failures: u64) -> Result<u64, StatsError> {
    /// Room for rounding where the number comes out whole, as for R = 0.5, C = 0.75: a run too many there would be wrong.
    const ROUNDING: f64 = 1e-12;
    check_probability("the reliability", reliability)?;
    check_probability("the confidence", confidence)?;
    let too_many = StatsError::OutOfRange {
        what: "the number of runs needed",
        range: "at most 1e9 (10000 where failures are allowed)",
        found: f64::INFINITY,
    };
    if failures == 0 {
        let n = (1.0 - confidence).ln() / reliability.ln();
        let n = (n * (1.0 - ROUNDING)).ceil().max(1.0);
        return if n <= MOST_WITHOUT_FAILURE as f64 {
            Ok(n as u64)
        } else {
            Err(too_many)
        };
    }
    if failures >= MOST_RUNS {
        return Err(too_many);
    }
    // P(at most f of n) = I_R(n - f, f + 1), which falls with n.
    let shown = |n: u64| {
        Ok(
            beta_reg((n - failures) as f64, failures as f64 + 1.0, reliability)
                <= (1.0 - confidence) * (1.0 + ROUNDING),
        )
    };
    smallest(failures, MOST_RUNS, shown)?.ok_or(too_many)
}

/// Reliability shown with `confidence` by `n` runs of which `failures` failed: the one-sided lower limit of the proportion that did not.
pub fn demonstrated_reliability(n: u64, failures: u64, confidence: f64) -> Result<f64, StatsError> {
    check_counts(failures, n)?;
    binomial_lower(n - failures, n, confidence)
}
