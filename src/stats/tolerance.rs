//! Factors of normal tolerance limits `mean ± k sd`: limits that hold a stated part of the population with a stated confidence.
//!
//! They are valid for a sample of a normal population, and say nothing where normality fails: test it first, or take logarithms, a Weibull
//! fit, or order statistics.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::error::{StatsError, check_probability};
use super::normal::normal_quantile;
use super::root::root_between;
use super::tolerance_integral::{OneSided, TwoSided};

/// Smallest and largest number of values for which factors are given. Above the largest they differ from the quantile of the
/// population itself by less than a part in a thousand.
const RANGE: (u64, u64) = (2, 1_000_000);

fn check(n: u64, coverage: f64, confidence: f64) -> Result<(), StatsError> {
    check_probability("the coverage", coverage)?;
    check_probability("the confidence", confidence)?;
    if n < RANGE.0 {
        return Err(StatsError::TooFew {
            what: "values",
            needed: RANGE.0 as usize,
            found: n as usize,
        });
    }
    if n > RANGE.1 {
        return Err(StatsError::OutOfRange {
            what: "the number of values",
            range: "at most 1e6",
            found: n as f64,
        });
    }
    Ok(())
}

/// Solves `probability(k) = confidence` for a probability that rises with `k`.
fn solve(probability: impl Fn(f64) -> f64, start: f64, confidence: f64) -> Result<f64, StatsError> {
    let miss = |k: f64| probability(k) - confidence;
    let failed = StatsError::NotConverged {
        what: "the tolerance factor",
    };
    let (mut lower, mut upper) = (start - 1.0, start + 1.0);
    let mut width = 1.0;
    for _ in 0..60 {
        let (below, above) = (miss(lower) <= 0.0, miss(upper) >= 0.0);
        if below && above {
            return root_between(miss, lower, upper).ok_or(failed);
        }
        width *= 2.0;
        if !below {
            lower -= width;
        }
        if !above {
            upper += width;
        }
    }
    Err(failed)
}

/// One-sided factor `k`: at least the part `coverage` of the population lies below `mean + k sd` (or above `mean - k sd`) with `confidence`.
///
/// Exact: `k = t'(confidence; n - 1, z sqrt(n)) / sqrt(n)` with the noncentral t distribution (ISO 16269-6), whose distribution function is
/// computed by quadrature over the distribution of `sd`, which holds for any noncentrality (series such as AS 243 lose ground beyond 37).
pub fn tolerance_one_sided(n: u64, coverage: f64, confidence: f64) -> Result<f64, StatsError> {
    check(n, coverage, confidence)?;
    let integral = OneSided::new(n, coverage);
    let start = tolerance_one_sided_natrella(n, coverage, confidence)
        .unwrap_or_else(|_| normal_quantile(coverage));
    solve(|k| integral.confidence(k), start, confidence)
}

/// One-sided factor by Natrella's approximation (NIST/SEMATECH e-Handbook 7.2.6.3); fails for few values, where it does not exist.
pub fn tolerance_one_sided_natrella(
    n: u64,
    coverage: f64,
    confidence: f64,
) -> Result<f64, StatsError> {
    check(n, coverage, confidence)?;
    let (z_coverage, z_confidence) = (normal_quantile(coverage), normal_quantile(confidence));
    let a = 1.0 - z_confidence.powi(2) / (2.0 * (n as f64 - 1.0));
    let b = z_coverage.powi(2) - z_confidence.powi(2) / n as f64;
    let under_root = z_coverage.powi(2) - a * b;
    if a <= 0.0 || under_root < 0.0 {
        return Err(StatsError::OutOfRange {
            what: "the number of values",
            range: "larger for this approximation at this confidence",
            found: n as f64,
        });
    }
    Ok((z_coverage + under_root.sqrt().copysign(z_confidence)) / a)
}

/// Two-sided factor `k`: at least the part `coverage` of the population lies in `mean ± k sd` with `confidence`.
///
/// Exact, by integration over the distribution of the mean (ISO 16269-6, Annex F).
pub fn tolerance_two_sided(n: u64, coverage: f64, confidence: f64) -> Result<f64, StatsError> {
    check(n, coverage, confidence)?;
    let integral = TwoSided::new(n, coverage)?;
    // In the logarithm, since the factor is positive and spans three powers of ten.
    let start = tolerance_two_sided_howe(n, coverage, confidence)?.ln();
    solve(|ln_k| integral.confidence(ln_k.exp()), start, confidence).map(f64::exp)
}

/// Two-sided factor by Howe's approximation (Howe 1969, JASA 64:610): `z sqrt(ν (1 + 1/n) / χ²(1 - confidence; ν))`, `ν = n - 1`.
pub fn tolerance_two_sided_howe(n: u64, coverage: f64, confidence: f64) -> Result<f64, StatsError> {
    check(n, coverage, confidence)?;
    let (count, dof) = (n as f64, n as f64 - 1.0);
    let z = normal_quantile(0.5 + 0.5 * coverage);
    let chi_squared = ChiSquared::new(dof)
        .map_err(|_| StatsError::NotConverged {
            what: "the chi-squared quantile",
        })?
        .inverse_cdf(1.0 - confidence);
    let k = z * (dof * (1.0 + 1.0 / count) / chi_squared).sqrt();
    if k.is_finite() && k > 0.0 {
        Ok(k)
    } else {
        Err(StatsError::NotConverged {
            what: "the chi-squared quantile",
        })
    }
}
