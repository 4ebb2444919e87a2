//! Distributions of a strength, all fitted, compared and plotted by the same code.
//!
//! A newcomer is a file with a [`StrengthModel`] and a line in [`STRENGTH_MODELS`]: any family `F((y - μ)/σ)` with a log-concave density,
//! `y` the strength or its logarithm.

mod calibrated;
mod fit;
mod likelihood_ratio;
mod lognormal;
mod normal;
mod paper;
mod simulated;
mod weibull;

pub use calibrated::{CalibratedFalls, calibrate_quantile};
pub use fit::{ParameterEstimate, ProfileLimits, StrengthFit, strength_fit};
pub use likelihood_ratio::{LikelihoodRatio, StrengthComparison, compare_strengths};
pub use lognormal::LOGNORMAL;
pub use normal::NORMAL;
pub use paper::{PlotPoint, plot_points};
pub use simulated::{GoodnessOfFit, goodness_of_fit};
pub use weibull::WEIBULL;

use super::location_scale::Family;

/// A parameter as the trade names it, from `μ` or `σ` of the scale the family is fitted on.
#[derive(Debug, Clone, Copy)]
pub struct ParameterForm {
    /// Name of the parameter.
    pub name: &'static str,
    /// True if it carries the unit of the values, false if it has none (those of a logarithm have none).
    pub has_unit: bool,
    /// Monotone function of `μ` (or `σ`).
    of: fn(f64) -> f64,
    /// Derivative of `of`.
    slope: fn(f64) -> f64,
}

/// A family of distributions of a strength.
#[derive(Debug)]
pub struct StrengthModel {
    /// Name as results carry it.
    pub name: &'static str,
    /// True if the family is fitted to logarithms, so that values must be greater than zero.
    pub logarithmic: bool,
    /// Parameter that comes from `μ`.
    pub location: ParameterForm,
    /// Parameter that comes from `σ`.
    pub spread: ParameterForm,
    standard: &'static dyn Family,
}

impl StrengthModel {
    /// The value on the scale the family is fitted on, abscissa of its probability paper.
    pub fn abscissa(&self, value: f64) -> f64 {
        if self.logarithmic { value.ln() } else { value }
    }

    /// The value that has this abscissa.
    pub fn value_at(&self, abscissa: f64) -> f64 {
        if self.logarithmic {
            abscissa.exp()
        } else {
            abscissa
        }
    }

    /// Ordinate of a probability on the paper on which the family is a straight line `(abscissa - μ)/σ`; infinite at 0 and 1, `NaN` outside.
    pub fn ordinate(&self, probability: f64) -> f64 {
        self.standard.quantile(probability)
    }
}

/// Every family a strength can be fitted with.
pub const STRENGTH_MODELS: [&StrengthModel; 3] = [&WEIBULL, &LOGNORMAL, &NORMAL];
