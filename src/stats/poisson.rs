//! Counts: exact limits of a Poisson mean.

use super::binomial::Limits;
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
