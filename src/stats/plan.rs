//! How many runs: before a study, and in the middle of one.
//!
//! [`success_run`](super::success_run) and [`sample_size`](super::sample_size) answer for pass and fail. Here are the number by another
//! convention, the numbers for measured values, and what is still lacking.

use super::binomial::{sample_size, success_run};
use super::error::{StatsError, check_probability};
use super::normal::normal_quantile;
use super::smallest::smallest;
use super::tolerance::{tolerance_one_sided, tolerance_two_sided};
use super::tolerance_integral::{OneSided, within_both};

/// Largest number of runs a plan names.
const MOST_RUNS: u64 = 10_000;

/// Sides on which a criterion `mean ± k sd` has a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// One limit.
    One,
    /// A lower and an upper limit.
    Two,
}

/// Runs without failure by the Bayesian variant with a uniform prior of the reliability, `R^(n+1) = 1 - C`: one fewer than
/// [`success_run`]. It is another convention, not a better number: state which was used. At least 1.
pub fn success_run_uniform_prior(reliability: f64, confidence: f64) -> Result<u64, StatsError> {
    Ok(success_run(reliability, confidence)?
        .saturating_sub(1)
        .max(1))
}

/// Further runs, none of which may fail, after `n` runs with `failures`, that show `reliability` with `confidence`; 0 if it is shown
/// already. The confidence is that of a study planned for this number of failures; extending a study until it passes has less.
pub fn further_runs(
    n: u64,
    failures: u64,
    reliability: f64,
    confidence: f64,
) -> Result<u64, StatsError> {
    if failures > n {
        return Err(StatsError::OutOfRange {
            what: "the number of failures",
            range: "at most the number of runs",
            found: failures as f64,
        });
    }
    Ok(sample_size(reliability, confidence, failures)?.saturating_sub(n))
}

/// Probability that `n` values of a normal population, whose limit lies `distance` standard deviations from its mean, pass the one-sided
/// criterion `mean + k sd <= limit` with the exact factor `k(n, coverage, confidence)`: noncentral t, `P(t'(n - 1, √n distance) >= √n k)`.
pub fn tolerance_power(
    n: u64,
    distance: f64,
    coverage: f64,
    confidence: f64,
) -> Result<f64, StatsError> {
    check_distance(distance)?;
    let k = tolerance_one_sided(n, coverage, confidence)?;
    // `confidence(k)` is the probability that mean + k sd lies above the point `distance` sd from the mean.
    Ok((1.0 - OneSided::at(n, distance).confidence(k)).clamp(0.0, 1.0))
}

/// Smallest number of values with which a population whose limit lies `distance` standard deviations from its mean passes the one-sided
/// criterion with the probability `power`.
///
/// Fails where the population does not meet the criterion itself (`distance` at or below the normal quantile of the coverage), or needs more
/// than ten thousand.
pub fn tolerance_sample_size(
    distance: f64,
    coverage: f64,
    confidence: f64,
    power: f64,
) -> Result<u64, StatsError> {
    check_distance(distance)?;
    check_probability("the power", power)?;
    check_meets(distance, coverage, Sides::One)?;
    from_two(|n| Ok(tolerance_power(n, distance, coverage, confidence)? >= power))
}

/// Probability that `n` values of a normal population, whose limits lie `below` and `above` standard deviations from its mean, pass the
/// two-sided criterion that `mean ± k sd` lies within both, with the exact factor `k(n, coverage, confidence)`:
/// `∫ f(s) [Φ(√n (above − k s)) − Φ(−√n (below − k s))]₊ ds` over the density of `s = sd/σ` (the definition of the criterion).
pub fn tolerance_power_two_sided(
    n: u64,
    (below, above): (f64, f64),
    coverage: f64,
    confidence: f64,
) -> Result<f64, StatsError> {
    check_distance(below)?;
    check_distance(above)?;
    let k = tolerance_two_sided(n, coverage, confidence)?;
    Ok(within_both(n, (below, above), k).clamp(0.0, 1.0))
}

/// Smallest number of values with which such a population passes the two-sided criterion with the probability `power`.
///
/// Fails where the population does not meet the criterion itself (the nearer limit at or below the normal quantile of `(1 + coverage)/2`:
/// limits about the mean do not reach it however many values there are), or needs more than ten thousand.
pub fn tolerance_sample_size_two_sided(
    (below, above): (f64, f64),
    coverage: f64,
    confidence: f64,
    power: f64,
) -> Result<u64, StatsError> {
    check_distance(below)?;
    check_distance(above)?;
    check_probability("the power", power)?;
    check_meets(below.min(above), coverage, Sides::Two)?;
    from_two(|n| Ok(tolerance_power_two_sided(n, (below, above), coverage, confidence)? >= power))
}

/// Smallest number of values at which the criterion would hold if the mean stayed `margin` (present) standard deviations within the limit
/// (the nearer one of two): the smallest `n` with `k(n) <= margin`. What further runs bring will not be the present mean and sd: an even
/// chance, not a promise.
pub fn tolerance_runs_at(
    margin: f64,
    coverage: f64,
    confidence: f64,
    sides: Sides,
) -> Result<u64, StatsError> {
    check_distance(margin)?;
    check_probability("the coverage", coverage)?;
    check_meets(margin, coverage, sides)?;
    from_two(|n| {
        let k = match sides {
            Sides::One => tolerance_one_sided(n, coverage, confidence)?,
            Sides::Two => tolerance_two_sided(n, coverage, confidence)?,
        };
        Ok(k <= margin)
    })
}

/// Smallest number of values at which it would be shown that fewer than the coverage meet a one-sided criterion, if the mean stayed `margin`
/// standard deviations within the limit (negative: beyond it): the smallest `n` with `k(n, coverage, 1 - confidence) >= margin`, the limit of
/// the same quantile on its other side.
///
/// Fails where the population seen meets the criterion (`margin` at or above the normal quantile of the coverage), or more than ten thousand
/// are needed.
pub fn tolerance_fails_at(margin: f64, coverage: f64, confidence: f64) -> Result<u64, StatsError> {
    check_distance(margin)?;
    check_probability("the coverage", coverage)?;
    check_probability("the confidence", confidence)?;
    if margin >= normal_quantile(coverage) {
        return Err(StatsError::OutOfRange {
            what: "the distance from the limit",
            range: "fewer standard deviations than the part wanted needs",
            found: margin,
        });
    }
    from_two(|n| Ok(tolerance_one_sided(n, coverage, 1.0 - confidence)? >= margin))
}

fn check_distance(distance: f64) -> Result<(), StatsError> {
    if distance.is_finite() {
        Ok(())
    } else {
        Err(StatsError::OutOfRange {
            what: "the distance from the limit",
            range: "a finite number of standard deviations",
            found: distance,
        })
    }
}

/// However many values, the factor stays above the quantile of the population itself.
fn check_meets(distance: f64, coverage: f64, sides: Sides) -> Result<(), StatsError> {
    check_probability("the coverage", coverage)?;
    let least = normal_quantile(match sides {
        Sides::One => coverage,
        Sides::Two => 0.5 + 0.5 * coverage,
    });
    if distance > least {
        Ok(())
    } else {
        Err(StatsError::OutOfRange {
            what: "the distance from the limit",
            range: "more standard deviations than the part wanted needs: no number of values will do",
            found: distance,
        })
    }
}

/// Smallest number of values from 2 on for which `enough` holds, which it then does for every larger one.
fn from_two(enough: impl Fn(u64) -> Result<bool, StatsError>) -> Result<u64, StatsError> {
    smallest(1, MOST_RUNS, enough)?.ok_or(StatsError::OutOfRange {
        what: "the number of values needed",
        range: "at most 10000",
        found: f64::INFINITY,
    })
}
