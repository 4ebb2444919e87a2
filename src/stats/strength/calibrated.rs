//! Intervals of a quantile whose confidence is set by simulation of the bench, for samples too small for the chi-squared distribution.

use super::super::error::{StatsError, check_probability};
use super::super::observation::IntervalObservation;
use super::StrengthFit;
use super::fit::{ProfileLimits, strength_fit};
use super::simulated::check_draws;

/// Falls of twice the log-likelihood at which an interval of a quantile ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CalibratedFalls {
    /// At the lower limit; the chi-squared quantile of one degree of freedom in large samples.
    pub below: f64,
    /// At the upper limit.
    pub above: f64,
    /// The limits themselves.
    pub limits: ProfileLimits,
    /// Simulated samples that could be fitted.
    pub draws: usize,
}

/// Two-sided interval of the quantile `p`: the ends of the profile likelihood where its signed root reaches the quantiles that root has in
/// samples simulated from the fit (Lawless 2003, Statistical Models and Methods for Lifetime Data, 2nd ed., 4.2 and 5.1; from memory).
///
/// In a location-scale family the root does not depend on the parameters where nothing is censored or the test ends at a fixed number of
/// failures: the interval is then exact but for the number of samples. With a fixed highest load it depends on them little: Weibull
/// intervals of 20 units with 30 % censored held 94.7 to 95.1 % of 1000 simulated studies, of 10 units 95.3 to 96.2 %, at 95 %
/// (`tests/certified_statistics/coverage.rs`). `seen` and `uniform` are as for [`goodness_of_fit`](super::goodness_of_fit). Fails where
/// more than one in twenty simulated samples cannot be fitted, as with a handful of failures.
pub fn calibrate_quantile(
    fit: &StrengthFit,
    p: f64,
    confidence: f64,
    seen: &dyn Fn(usize, f64) -> IntervalObservation,
    draws: usize,
    uniform: &mut dyn FnMut() -> f64,
) -> Result<CalibratedFalls, StatsError> {
    check_draws(draws)?;
    check_probability("the confidence", confidence)?;
    let truth = fit.quantile(p)?;
    let mut roots: Vec<f64> = (0..draws)
        .filter_map(|_| {
            let sample = fit.simulate(seen, uniform);
            strength_fit(fit.model, &sample).ok()?.signed_root(p, truth)
        })
        .collect();
    // Samples that cannot be fitted would all have lain at one end.
    if roots.len() < draws - draws / 20 {
        return Err(StatsError::TooFew {
            what: "simulated samples that can be fitted",
            needed: draws - draws / 20,
            found: roots.len(),
        });
    }
    roots.sort_by(f64::total_cmp);
    let tail = 0.5 - 0.5 * confidence;
    let rank = |q: f64| {
        let place = (q * (roots.len() + 1) as f64).round() as usize;
        roots.get(place.clamp(1, roots.len()) - 1).copied()
    };
    let (low, high) = (rank(tail).unwrap_or(0.0), rank(1.0 - tail).unwrap_or(0.0));
    let (below, above) = (high.max(0.0).powi(2), low.min(0.0).powi(2));
    Ok(CalibratedFalls {
        below,
        above,
        limits: fit.quantile_falls(p, below, above)?,
        draws: roots.len(),
    })
}
