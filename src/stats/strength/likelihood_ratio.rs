//! Comparison of groups of strengths by the ratio of likelihoods.

use super::super::error::StatsError;
use super::super::location_scale::{Datum, fit, fit_common_spread};
use super::super::observation::IntervalObservation;
use super::super::quantiles::chi_squared_upper_tail;
use super::StrengthModel;
use super::fit::{data_of_model, ln_jacobian, strength_fit};

/// Result of a likelihood-ratio test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LikelihoodRatio {
    /// Twice the gain in log-likelihood; chi-squared with `dof` in large samples if the simpler description holds.
    pub chi_squared: f64,
    /// Parameters the fuller description has more.
    pub dof: usize,
    /// Probability of a value as high as this or higher if the simpler description holds.
    pub p: f64,
}

/// Groups of strengths compared within one family.
#[derive(Debug, Clone, PartialEq)]
pub struct StrengthComparison {
    /// Log-likelihoods: one distribution for all, one spread (shape) with locations of their own, all parameters of their own.
    pub ln_likelihood: [f64; 3],
    /// One distribution for all, against parameters of their own.
    pub any_difference: LikelihoodRatio,
    /// One spread for all, against spreads of their own: may the groups be described with one shape?
    pub spread: LikelihoodRatio,
    /// One location for all, against locations of their own, the spread being common to all. Means nothing where the spreads differ.
    pub location: LikelihoodRatio,
    /// The common spread in the form of the family (Weibull: the shape).
    pub common_spread: f64,
    /// Locations with the common spread, in the form of the family, one for each group.
    pub locations: Vec<f64>,
}

/// Compares two or more groups. Fails where a group cannot be fitted by itself (fewer than two failures, no spread), with the reason.
///
/// The chi-squared distribution of the test values is that of large samples; with fewer than some ten failures a group the p-values are
/// too small by a part that grows as the groups shrink. Beside it, [`logrank`](super::super::logrank) assumes no family.
pub fn compare_strengths(
    model: &'static StrengthModel,
    groups: &[&[IntervalObservation]],
) -> Result<StrengthComparison, StatsError> {
    if groups.len() < 2 {
        return Err(StatsError::TooFew {
            what: "groups",
            needed: 2,
            found: groups.len(),
        });
    }
    let (mut each, mut jacobian) = (0.0, 0.0);
    let mut data: Vec<Vec<Datum>> = Vec::with_capacity(groups.len());
    for group in groups {
        each += strength_fit(model, group)?.ln_likelihood;
        jacobian += ln_jacobian(model, group);
        data.push(data_of_model(model, group)?);
    }
    let shared = fit_common_spread(model.standard, &data)?;
    let pooled: Vec<Datum> = data.into_iter().flatten().collect();
    let one = fit(model.standard, &pooled)?.ln_likelihood + jacobian;
    let shared_spread = shared.ln_likelihood + jacobian;
    let more = groups.len() - 1;
    Ok(StrengthComparison {
        ln_likelihood: [one, shared_spread, each],
        any_difference: ratio(one, each, 2 * more),
        spread: ratio(shared_spread, each, more),
        location: ratio(one, shared_spread, more),
        common_spread: (model.spread.of)(shared.sigma),
        locations: shared.mu.into_iter().map(model.location.of).collect(),
    })
}

fn ratio(simple: f64, full: f64, dof: usize) -> LikelihoodRatio {
    // The fuller description contains the simpler one; less than nothing is rounding.
    let chi_squared = (2.0 * (full - simple)).max(0.0);
    LikelihoodRatio {
        chi_squared,
        dof,
        p: chi_squared_upper_tail(chi_squared, dof as f64),
    }
}
