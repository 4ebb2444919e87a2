//! Least-squares fitting. Nothing in here knows any physics or any unit: parameters and their uncertainties come back in the units
//! that the caller's `x` and `y` imply.
//!
//! | to fit | call | gives |
//! |---|---|---|
//! | a model linear in its parameters | [`linear_least_squares`] | [`LinearFit`] |
//! | a polynomial | [`polynomial_fit`] | [`LinearFit`] |
//! | a straight line, weighted or not | [`straight_line`] | [`Line`] |
//! | a straight line through data with outliers | [`robust_line`], [`theil_sen`] | [`Line`] |
//! | any curve `y = f(x; parameters)`, weighted or not | [`fit_curve`] with a [`Model`] | [`CurveFit`] |
//! | any curve through data with outliers | [`fit_curve_robust`] with a [`Loss`] | [`RobustFit`] |
//! | any curve through points uncertain in `x` and `y` | [`fit_both_errors`] | [`BothErrorsFit`] |
//! | the place where a straight line changes its slope | [`broken_line`] | [`BrokenLine`] |
//! | centre and scatter of data with outliers | [`median`], [`mad_sigma`] | a number |
//!
//! | to know of a fit | call | gives |
//! |---|---|---|
//! | the uncertainty of a parameter, of the curve | [`CurveFit::u`], [`CurveFit::u_curve`] | a number or why not |
//! | where the curve and a new observation lie | [`CurveFit::band`] | [`Band`] |
//! | an interval that need not be symmetric | [`profile_parameter`], [`profile_function`] | [`ProfileInterval`] |
//! | whether the residuals look like noise | [`check_residuals`] | [`ResidualChecks`] |
//! | which of several models | [`rank_models`] | [`Ranked`], the best first |
//! | whether a model's derivatives are right | [`check_gradient`] | [`GradientCheck`] |
//!
//! # What calls what
//!
//! | file | holds | calls |
//! |---|---|---|
//! | `least_squares` | [`fit_curve`]: iteration, new starts, parameters on bounds | `problem`, `polish`, `covariance`, `stop` |
//! | `problem` | the curve in the terms of the `levenberg-marquardt` crate | `model`, `bounds` |
//! | `polish` | the last digits, by Gauss-Newton steps | `problem` |
//! | `model`, `derivative` | what a curve says of itself; differences where it gives no derivatives | |
//! | `robust_curve` | M-estimation by weights | `least_squares` once a round, `robust` for the scale |
//! | `both_errors` | orthogonal distance as a curve fit of its own | `least_squares` once |
//! | `profile` | `S` with a value held, as a curve fit of its own | `least_squares` some twenty times for each end |
//! | `bands`, `residual_checks`, `choice` | what a [`CurveFit`] is worth | no fit |
//! | `linear`, `straight_line`, `change_point` | models linear in their parameters | `qr` in `double_double` |
//! | `robust` | medians, robust lines | `straight_line` |
//!
//! # What the results promise
//!
//! - Covariances are `s² (JᵀWJ)⁻¹` with the residual variance `s²` estimated from the data (so weights need only be right up to one
//!   common factor). For known absolute uncertainties, with weights `1/u²`, use `covariance_as_weighted`, which leaves `s²` out.
//! - A parameter whose uncertainty cannot be had answers [`NoUncertainty`] with the reason, never zero.
//! - A fit says why it stopped ([`StopReason`]); a fit that did not converge is returned, not hidden, and says so.
//! - No function panics on any input: lengths, infinities, `NaN` and too few points come back as [`FitError`].
//!
//! Checked in `tests/certified_fits/` against the NIST Statistical Reference Datasets and published fits.

mod bands;
mod both_errors;
mod bounds;
mod change_point;
mod choice;
mod covariance;
mod curve_fit;
mod derivative;
mod double_double;
mod error;
mod least_squares;
mod linear;
#[cfg(test)]
mod made_up;
mod model;
mod polish;
mod problem;
mod profile;
mod qr;
mod residual_checks;
mod robust;
mod robust_curve;
mod stop;
mod straight_line;

pub use bands::Band;
pub use both_errors::{BothErrorsFit, UncertainPoints, fit_both_errors};
pub use bounds::Bound;
pub use change_point::{BrokenLine, broken_line};
pub use choice::{Candidate, Ranked, rank_models};
pub use covariance::NoUncertainty;
pub use curve_fit::CurveFit;
pub use derivative::{GradientCheck, check_gradient};
pub use error::FitError;
pub use least_squares::fit_curve;
pub use linear::{LinearFit, linear_least_squares, polynomial_fit};
pub use model::Model;
pub use profile::{Fitted, OpenEnd, ProfileInterval, profile_function, profile_parameter};
pub use residual_checks::{ResidualChecks, ResidualTest, check_residuals};
pub use robust::{mad_sigma, median, robust_line, theil_sen};
pub use robust_curve::{DOWN_WEIGHTED, Loss, RobustFit, fit_curve_robust};
pub use stop::StopReason;
pub use straight_line::{Line, straight_line};
