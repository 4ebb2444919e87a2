//! What a fitted curve is worth.

use ndarray::Array2;

use super::covariance::NoUncertainty;
use super::model::Model;
use super::stop::StopReason;

/// Result of [`fit_curve`](super::fit_curve).
#[derive(Debug, Clone, PartialEq)]
pub struct CurveFit {
    /// Names of the parameters.
    pub names: Vec<String>,
    /// Fitted parameters.
    pub parameters: Vec<f64>,
    /// Covariance of the parameters, scaled by the residual variance; `NaN` in rows and columns of parameters without uncertainty.
    pub covariance: Array2<f64>,
    /// The same without the residual variance: the covariance if the weights are `1/u²` with known `u`.
    pub covariance_as_weighted: Array2<f64>,
    /// For each parameter why it has no uncertainty, if it has none.
    pub missing: Vec<Option<NoUncertainty>>,
    /// `sqrt(sum_of_squares / dof)`; `None` where there are no degrees of freedom.
    pub residual_sd: Option<f64>,
    /// Points less parameters that were free (a parameter that ended on a bound is not).
    pub dof: usize,
    /// Sum of (weighted) squared residuals.
    pub sum_of_squares: f64,
    /// Akaike's information criterion `n ln(SS/n) + 2 (p + 1)` for independent normal errors of one unknown variance (Burnham & Anderson
    /// 2002, 2.2). Comparable between fits to the same points with the same weights only. Minus infinity for an exact fit.
    pub aic: f64,
    /// Why the iteration stopped.
    pub stop: StopReason,
    /// How often the whole curve was computed (derivatives not counted).
    pub evaluations: usize,
}

impl CurveFit {
    /// Standard uncertainty of parameter `i`, or the reason why there is none.
    pub fn u(&self, i: usize) -> Result<f64, NoUncertainty> {
        match self.missing.get(i) {
            None => Err(NoUncertainty::NoSuchParameter),
            Some(Some(reason)) => Err(*reason),
            Some(None) => Ok(self.covariance[(i, i)].sqrt()),
        }
    }

    /// Standard uncertainty of the fitted curve at `x` (of the curve, not of single points); `None` where a parameter has none.
    pub fn u_curve(&self, model: &dyn Model, x: f64) -> Option<f64> {
        let mut g = vec![0.0; self.parameters.len()];
        model.gradient(&self.parameters, x, &mut g);
        let g = ndarray::Array1::from_vec(g);
        if g.len() != self.covariance.nrows() {
            return None;
        }
        let variance = g.dot(&self.covariance.dot(&g));
        (variance.is_finite() && variance >= 0.0).then(|| variance.sqrt())
    }

    /// Akaike's criterion with the correction for few points (Hurvich & Tsai 1989); infinite where `n - p - 2 <= 0`, since so few
    /// points say nothing about the worth of the model.
    pub fn aic_corrected(&self) -> f64 {
        let free = self
            .missing
            .iter()
            .filter(|m| **m != Some(NoUncertainty::AtBound))
            .count();
        let k = (free + 1) as f64;
        let left = self.dof as f64 - 2.0;
        if left > 0.0 {
            self.aic + 2.0 * k * (k + 1.0) / left
        } else {
            f64::INFINITY
        }
    }
}
