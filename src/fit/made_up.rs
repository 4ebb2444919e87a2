//! Curves that several tests fit.

use super::Model;

/// `a + b x`.
pub(super) struct Straight;
impl Model for Straight {
    fn names(&self) -> &[&str] {
        &["a", "b"]
    }
    fn value(&self, p: &[f64], x: f64) -> f64 {
        p[0] + p[1] * x
    }
}

/// `size e^(-rate x)`.
pub(super) struct Exponential;
impl Model for Exponential {
    fn names(&self) -> &[&str] {
        &["size", "rate"]
    }
    fn value(&self, p: &[f64], x: f64) -> f64 {
        p[0] * (-p[1] * x).exp()
    }
}
