//! The (weighted) straight line.

use super::error::{FitError, check_finite, check_length, check_weights};
use super::linear::polynomial_fit;

/// A straight line `y = intercept + slope x` with what is known of its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Value at `x = 0`, in units of `y`.
    pub intercept: f64,
    /// Slope, in units of `y` over those of `x`.
    pub slope: f64,
    /// Standard deviation of a point about the line (of unit weight where weighted), in units of `y`. `NaN` with two points only.
    pub sd: f64,
    /// Standard uncertainty of the intercept. `NaN` with two points only.
    pub u_intercept: f64,
    /// Standard uncertainty of the slope. `NaN` with two points only.
    pub u_slope: f64,
    /// Covariance of intercept and slope. `NaN` with two points only.
    pub covariance: f64,
}

impl Line {
    /// Value of the line at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// Standard uncertainty of the line at `x` (of the line, not of single points).
    pub fn u_at(&self, x: f64) -> f64 {
        (self.u_intercept.powi(2) + 2.0 * x * self.covariance + (x * self.u_slope).powi(2))
            .max(0.0)
            .sqrt()
    }
}

/// Least-squares straight line. `weights` multiply the squared residuals. Needs two points of different `x`.
pub fn straight_line(x: &[f64], y: &[f64], weights: Option<&[f64]>) -> Result<Line, FitError> {
    check_length("y", x.len(), y.len())?;
    check_finite("x", x)?;
    check_finite("y", y)?;
    check_weights(weights, x.len())?;
    let fit = polynomial_fit(x, y, 1, weights)?;
    let [intercept, slope] = fit.parameters[..] else {
        return Err(FitError::NoParameters);
    };
    Ok(Line {
        intercept,
        slope,
        sd: fit.residual_sd.unwrap_or(f64::NAN),
        u_intercept: fit.u(0).unwrap_or(f64::NAN),
        u_slope: fit.u(1).unwrap_or(f64::NAN),
        covariance: fit.covariance[(0, 1)],
    })
}
