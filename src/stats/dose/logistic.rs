//! The logistic distribution `F = 1/(1 + exp(-z))`.

use super::super::location_scale::Family;

/// Standard logistic distribution.
#[derive(Debug)]
pub(super) struct Logistic;

/// `ln(1 + exp(x))`, also for large `x`.
fn softplus(x: f64) -> f64 {
    x.max(0.0) + (-x.abs()).exp().ln_1p()
}

impl Family for Logistic {
    fn ln_density(&self, z: f64) -> f64 {
        -z.abs() - 2.0 * (-z.abs()).exp().ln_1p()
    }
    fn score(&self, z: f64) -> f64 {
        -(0.5 * z).tanh()
    }
    fn score_slope(&self, z: f64) -> f64 {
        -0.5 * (0.5 * z).cosh().powi(-2)
    }
    fn ln_interval(&self, a: f64, b: f64) -> f64 {
        // F(b) - F(a) = F(b) (1 - F(a)) (1 - exp(a - b)).
        let within = if a.is_finite() && b.is_finite() {
            (-(a - b).exp_m1()).ln()
        } else {
            0.0
        };
        let below = if b.is_finite() { softplus(-b) } else { 0.0 };
        let above = if a.is_finite() { softplus(a) } else { 0.0 };
        within - below - above
    }
    fn quantile(&self, p: f64) -> f64 {
        if p.is_nan() || !(0.0..=1.0).contains(&p) {
            return f64::NAN;
        }
        p.ln() - (-p).ln_1p()
    }
}
