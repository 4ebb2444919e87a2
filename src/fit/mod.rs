//! Least-squares fitting. Nothing in here knows any physics or any unit: parameters and their uncertainties come back in the units
//! that the caller's `x` and `y` imply.
//!
//! | to fit | call | gives |
//! |---|---|---|
//! | a model linear in its parameters | [`linear_least_squares`] | [`LinearFit`] |
//! | a polynomial | [`polynomial_fit`] | [`LinearFit`] |
//! | a straight line, weighted or not | [`straight_line`] | [`Line`] |
//! | a straight line through data with outliers | [`robust_line`], [`theil_sen`] | [`Line`] |
//! | any curve `y = f(x; parameters)` | [`fit_curve`] with a [`Model`] | [`CurveFit`] |
//! | the place where a straight line changes its slope | [`broken_line`] | [`BrokenLine`] |
//! | centre and scatter of data with outliers | [`median`], [`mad_sigma`] | a number |
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

mod bounds;
mod change_point;
mod covariance;
mod curve_fit;
mod double_double;
mod error;
mod least_squares;
mod linear;
mod model;
mod problem;
mod qr;
mod robust;
mod stop;
mod straight_line;

pub use bounds::Bound;
pub use change_point::{BrokenLine, broken_line};
pub use covariance::NoUncertainty;
pub use curve_fit::CurveFit;
pub use error::FitError;
pub use least_squares::fit_curve;
pub use linear::{LinearFit, linear_least_squares, polynomial_fit};
pub use model::Model;
pub use robust::{mad_sigma, median, robust_line, theil_sen};
pub use stop::StopReason;
pub use straight_line::{Line, straight_line};
