//! Bands about a fitted curve: where the curve lies, and where a new observation will.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::curve_fit::CurveFit;
use super::model::Model;

/// Intervals of one confidence at one `x`, pointwise (not for the whole curve at once).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Value of the fitted curve.
    pub value: f64,
    /// Where the curve itself lies: lower and upper limit.
    pub curve: (f64, f64),
    /// Where one new observation will lie: lower and upper limit.
    pub observation: (f64, f64),
}

/// Factor on a standard uncertainty for a two-sided interval; `None` without degrees of freedom or for a confidence outside 0 to 1.
pub(super) fn student_factor(dof: usize, confidence: f64) -> Option<f64> {
    if dof == 0 || !(confidence > 0.0 && confidence < 1.0) {
        return None;
    }
    let t = StudentsT::new(0.0, 1.0, dof as f64).ok()?;
    Some(t.inverse_cdf(0.5 * (1.0 + confidence)))
}

impl CurveFit {
    /// Pointwise bands at `x`: `f ± t u` for the curve, `f ± t sqrt(u² + s²/w)` for a new observation of weight `w` (1 in an unweighted
    /// fit), with Student's t of the degrees of freedom and `u² = gᵀ C g` (Seber & Wild 1989, Nonlinear Regression, 5.1). First order in the
    /// parameters: right where the curve is nearly straight in them over their uncertainties.
    ///
    /// `None` where a parameter has no uncertainty, or confidence (0 to 1) or weight (above 0) make no sense.
    pub fn band(&self, model: &dyn Model, x: f64, weight: f64, confidence: f64) -> Option<Band> {
        let t = student_factor(self.dof, confidence)?;
        let u = self.u_curve(model, x)?;
        let value = model.value(&self.parameters, x);
        let one = u.hypot(self.residual_sd? / weight.sqrt());
        if !(value.is_finite() && one.is_finite() && weight > 0.0) {
            return None;
        }
        Some(Band {
            value,
            curve: (value - t * u, value + t * u),
            observation: (value - t * one, value + t * one),
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::fit_curve;
    use super::super::made_up::Straight;

    #[test]
    fn bands_of_a_straight_line_are_those_of_the_textbook() {
        let x = [1.0, 2.0, 4.0, 5.0, 8.0];
        let y = [1.1, 1.8, 4.3, 4.9, 8.2];
        let fit = fit_curve(&Straight, &x, &y, None, &[0.0, 1.0], None).unwrap();
        // Mean 4, sum of squares about it 30; t of 3 degrees of freedom at 95 % is 3.182446 in every table.
        let s = fit.residual_sd.unwrap();
        for at in [0.0, 4.0, 10.0] {
            let band = fit.band(&Straight, at, 1.0, 0.95).unwrap();
            let share = 1.0 / 5.0 + (at - 4.0_f64).powi(2) / 30.0;
            let half = |(low, high): (f64, f64)| 0.5 * (high - low);
            assert!((half(band.curve) - 3.182_446_3 * s * share.sqrt()).abs() < 1e-6);
            assert!((half(band.observation) - 3.182_446_3 * s * (1.0 + share).sqrt()).abs() < 1e-6);
            // Twice the weight, half the variance of the observation.
            let band = fit.band(&Straight, at, 2.0, 0.95).unwrap();
            assert!((half(band.observation) - 3.182_446_3 * s * (0.5 + share).sqrt()).abs() < 1e-6);
        }
        assert!(fit.band(&Straight, 0.0, 1.0, 1.0).is_none());
        assert!(fit.band(&Straight, 0.0, -1.0, 0.95).is_none());
    }
}
