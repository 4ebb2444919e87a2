//! The distribution behind a Weibull strength: the smallest extreme value distribution of its logarithm.

use super::location_scale::Family;

/// With fewer failures than this the estimate of the shape is too high by half or more on average (Thoman, Bain & Antle 1969,
/// Technometrics 11:445: factor 1/0.669 for five failures, from memory), and a fit should carry a warning.
pub const FEW_FAILURES: usize = 5;

/// Smallest extreme value distribution, `F = 1 - exp(-exp(z))`: that of the logarithm of a Weibull variable.
#[derive(Debug)]
pub(super) struct SmallestExtreme;

impl Family for SmallestExtreme {
    fn ln_density(&self, z: f64) -> f64 {
        z - z.exp()
    }
    fn score(&self, z: f64) -> f64 {
        -z.exp_m1()
    }
    fn score_slope(&self, z: f64) -> f64 {
        -z.exp()
    }
    fn ln_interval(&self, a: f64, b: f64) -> f64 {
        let before = if a.is_finite() { a.exp() } else { 0.0 };
        if b == f64::INFINITY {
            return -before;
        }
        let inside = if a.is_finite() {
            before * (b - a).exp_m1()
        } else {
            b.exp()
        };
        (-(-inside).exp_m1()).ln() - before
    }
    fn quantile(&self, p: f64) -> f64 {
        (-(-p).ln_1p()).ln()
    }
}
