//! Counts: exact limits of a Poisson mean, and the ratio of two rates.

use super::binomial::{Limits, beta_reg, clopper_pearson};
use super::error::{StatsError, check_probability};
use super::quantiles::chi_squared_quantile;

/// Largest count taken.
const MOST_EVENTS: u64 = 10_000;

/// Two-sided exact limits of the expected number of events where `events` were counted (Garwood 1936, Biometrika 28:437):
/// `χ²(α/2; 2k)/2` and `χ²(1 - α/2; 2k + 2)/2`; the lower one is 0 where none was. The coverage is at least `confidence`.
///
/// Divide by the number of runs for a rate a run.
pub fn poisson_limits(events: u64, confidence: f64) -> Result<Limits, StatsError> {
    check_probability("the confidence", confidence)?;
    if events > MOST_EVENTS {
        return Err(StatsError::OutOfRange {
            what: "the number of events",
            range: "at most 10000",
            found: events as f64,
        });
    }
    let tail = 0.5 - 0.5 * confidence;
    let twice = 2.0 * events as f64;
    Ok(Limits {
        lower: if events == 0 {
            0.0
        } else {
            0.5 * chi_squared_quantile(tail, twice)?
        },
        upper: 0.5 * chi_squared_quantile(1.0 - tail, twice + 2.0)?,
    })
}

/// Comparison of two rates of events.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateRatio {
    /// Second rate over first; `None` where the first count is 0.
    pub ratio: Option<f64>,
    /// Exact lower limit of the ratio; 0 where the second count is 0.
    pub lower: f64,
    /// Exact upper limit; infinite where the first count is 0.
    pub upper: f64,
    /// Two-sided probability of counts as far apart as these or farther if the rates are equal: twice the smaller tail, so that it agrees
    /// with the limits.
    pub p: f64,
}

/// Compares two Poisson rates, `events` counted over an `exposure` (runs, hours, cycles) each. Given both counts together the second is
/// binomial with `r t2/(t1 + r t2)` (Przyborowski & Wilenski 1940, Biometrika 31:313); limits by Clopper & Pearson.
pub fn poisson_ratio(
    (events1, exposure1): (u64, f64),
    (events2, exposure2): (u64, f64),
    confidence: f64,
) -> Result<RateRatio, StatsError> {
    for exposure in [exposure1, exposure2] {
        if !(exposure > 0.0 && exposure.is_finite()) {
            return Err(StatsError::OutOfRange {
                what: "the exposure",
                range: "finite and greater than zero",
                found: exposure,
            });
        }
    }
    let all = events1.saturating_add(events2);
    // Both counts zero: nothing is known of the ratio.
    if all == 0 {
        return Err(StatsError::TooFew {
            what: "events",
            needed: 1,
            found: 0,
        });
    }
    let share = clopper_pearson(events2, all, confidence)?;
    let to_ratio = |p: f64| p / (1.0 - p) * (exposure1 / exposure2);
    let equal = exposure2 / (exposure1 + exposure2);
    let (x, n) = (events2 as f64, all as f64);
    let at_most = if events2 == all {
        1.0
    } else {
        1.0 - beta_reg(x + 1.0, n - x, equal)
    };
    let at_least = if events2 == 0 {
        1.0
    } else {
        beta_reg(x, n - x + 1.0, equal)
    };
    Ok(RateRatio {
        ratio: (events1 > 0).then(|| to_ratio(x / n)),
        lower: to_ratio(share.lower),
        upper: to_ratio(share.upper),
        p: (2.0 * at_most.min(at_least)).min(1.0),
    })
}
