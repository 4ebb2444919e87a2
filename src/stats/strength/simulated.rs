//! Goodness of fit under censoring, by simulation of what the bench would have seen.

use super::super::error::StatsError;
use super::super::observation::IntervalObservation;
use super::fit::strength_fit;
use super::paper::plot_points;
use super::{StrengthFit, StrengthModel};

/// Fewest and most simulated samples: below, p has a single digit; above, nothing is gained.
const DRAWS: (usize, usize) = (99, 100_000);

/// Whether a family describes a sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GoodnessOfFit {
    /// Correlation of the probability plot ([`StrengthModel::plot_correlation`]).
    pub correlation: f64,
    /// Probability of a plot as crooked as this or more so if the family holds, `(1 + crooked)/(1 + draws)` (Davison & Hinkley 1997,
    /// Bootstrap Methods and their Application, 4.2).
    pub p: f64,
    /// Simulated samples that had a plot.
    pub draws: usize,
}

pub(super) fn check_draws(draws: usize) -> Result<(), StatsError> {
    if (DRAWS.0..=DRAWS.1).contains(&draws) {
        Ok(())
    } else {
        Err(StatsError::OutOfRange {
            what: "the number of simulated samples",
            range: "99 to 100000",
            found: draws as f64,
        })
    }
}

impl StrengthFit {
    /// A sample of the fitted population as the bench would have seen it. `seen` says what becomes of the unit `i` if its strength is
    /// the value given: the value, a step, or not reached; `uniform` gives numbers in [0, 1).
    pub(super) fn simulate(
        &self,
        seen: &dyn Fn(usize, f64) -> IntervalObservation,
        uniform: &mut dyn FnMut() -> f64,
    ) -> Vec<IntervalObservation> {
        let (mu, sigma) = self.location_and_spread();
        (0..self.n)
            .map(|i| {
                // Half a step of 2^-53 off the ends: no infinite strength.
                let p = uniform().clamp(0.0, 1.0) * (1.0 - f64::EPSILON) + 0.5 * f64::EPSILON;
                let strength = self.model.value_at(mu + sigma * self.model.ordinate(p));
                seen(i, strength)
            })
            .collect()
    }
}

/// Tests a family: the correlation of the sample's probability plot among those of samples simulated from the fit.
///
/// `seen(i, strength)` is the bench: what it would have recorded of the unit `i` with that strength, as stopped at its highest load. The
/// random numbers come from `uniform`, in [0, 1); the same numbers give the same p.
pub fn goodness_of_fit(
    model: &'static StrengthModel,
    observations: &[IntervalObservation],
    seen: &dyn Fn(usize, f64) -> IntervalObservation,
    draws: usize,
    uniform: &mut dyn FnMut() -> f64,
) -> Result<GoodnessOfFit, StatsError> {
    check_draws(draws)?;
    let correlation = model.plot_correlation(&plot_points(observations)?)?;
    let fit = strength_fit(model, observations)?;
    let (mut crooked, mut used) = (0_usize, 0_usize);
    for _ in 0..draws {
        let sample = fit.simulate(seen, uniform);
        // A simulated sample with hardly a failure has no plot and says nothing.
        let Ok(r) = plot_points(&sample).and_then(|points| model.plot_correlation(&points)) else {
            continue;
        };
        used += 1;
        crooked += usize::from(r <= correlation);
    }
    if used < DRAWS.0.min(draws) / 2 {
        return Err(StatsError::TooFew {
            what: "simulated samples with a probability plot",
            needed: DRAWS.0 / 2,
            found: used,
        });
    }
    Ok(GoodnessOfFit {
        correlation,
        p: (1 + crooked) as f64 / (1 + used) as f64,
        draws: used,
    })
}
