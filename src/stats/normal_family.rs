//! The standard normal distribution as a family of location and scale.

use super::location_scale::Family;
use super::normal::{self, normal_quantile};

/// Standard normal distribution.
#[derive(Debug)]
pub(super) struct Normal;

impl Family for Normal {
    fn ln_density(&self, z: f64) -> f64 {
        normal::ln_density(z)
    }
    fn score(&self, z: f64) -> f64 {
        -z
    }
    fn score_slope(&self, _: f64) -> f64 {
        -1.0
    }
    fn ln_interval(&self, a: f64, b: f64) -> f64 {
        normal::ln_interval(a, b)
    }
    fn quantile(&self, p: f64) -> f64 {
        normal_quantile(p)
    }
}
