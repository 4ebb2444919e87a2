//! Loss in proportion to the pressure: through a wall, or through a gap so narrow that the flow in it is laminar.

use super::RelaxationModel;
use crate::fit::Model;

/// `p = p0 exp(-t / tau)`; p in kPa, t and tau in s.
pub(super) struct Permeation;

impl Model for Permeation {
    fn names(&self) -> &[&str] {
        &["start_kpa", "time_s"]
    }

    fn value(&self, params: &[f64], x: f64) -> f64 {
        match params {
            [start, time] if *time > 0.0 => start * (-x / time).exp(),
            _ => f64::NAN,
        }
    }

    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        if let ([start, time], [of_start, of_time]) = (params, out) {
            let left = (-x / time).exp();
            (*of_start, *of_time) = (left, start * left * x / (time * time));
        }
    }
}

impl RelaxationModel for Permeation {
    fn name(&self) -> &'static str {
        "permeation"
    }

    fn equation(&self) -> &'static str {
        "p = p0 exp(-t / tau)  (kPa, s)"
    }

    fn source(&self) -> &'static str {
        "flow in proportion to the pressure from a constant capacity: tau = R C"
    }

    fn guess(&self, time_s: &[f64], pressure_kpa: &[f64]) -> Option<Vec<f64>> {
        let (start, end) = (pressure_kpa.first()?, pressure_kpa.last()?);
        let time = time_s.last()? / (start / end).ln();
        Some(vec![
            *start,
            if time > 0.0 {
                time
            } else {
                100.0 * time_s.last()?
            },
        ])
    }

    fn floor(&self) -> Option<usize> {
        None
    }

    fn times(&self) -> &'static [usize] {
        &[1]
    }
}
