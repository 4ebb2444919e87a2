//! A hole: the root of the pressure falls evenly.

use super::RelaxationModel;
use crate::fit::Model;

/// `p = (sqrt(p0) - r t)²` as long as that root is positive; p in kPa, t in s, r in √kPa/s.
pub(super) struct Leak;

impl Model for Leak {
    fn names(&self) -> &[&str] {
        &["start_kpa", "root_kpa_per_s"]
    }

    fn value(&self, params: &[f64], x: f64) -> f64 {
        match params {
            [start, rate] if *start >= 0.0 => (start.sqrt() - rate * x).max(0.0).powi(2),
            _ => f64::NAN,
        }
    }

    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        if let ([start, rate], [of_start, of_rate]) = (params, out) {
            let root = (start.sqrt() - rate * x).max(0.0);
            (*of_start, *of_rate) = (root / start.sqrt(), -2.0 * root * x);
        }
    }
}

impl RelaxationModel for Leak {
    fn name(&self) -> &'static str {
        "leak"
    }

    fn equation(&self) -> &'static str {
        "p = (sqrt(p0) - r t)^2  (kPa, s)"
    }

    fn source(&self) -> &'static str {
        "outflow through an orifice (Torricelli) from a constant capacity C: r = Cd A / (C sqrt(2 rho))"
    }

    fn guess(&self, time_s: &[f64], pressure_kpa: &[f64]) -> Option<Vec<f64>> {
        let (start, end) = (pressure_kpa.first()?, pressure_kpa.last()?);
        let rate = (start.max(0.0).sqrt() - end.max(0.0).sqrt()) / time_s.last()?;
        Some(vec![*start, rate])
    }

    fn floor(&self) -> Option<usize> {
        None
    }

    fn falls(&self) -> &'static [usize] {
        &[1]
    }

    fn times(&self) -> &'static [usize] {
        &[]
    }
}
