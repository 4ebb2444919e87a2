//! Straight growth: stiff balloons over a small range.

use super::BalloonModel;
use crate::fit::{Model, straight_line};

/// `D = D0 + c p`; D in mm, p in kPa gauge, c in mm/kPa.
pub(super) struct Straight;

impl Model for Straight {
    fn names(&self) -> &[&str] {
        &["unfolded_diameter_mm", "growth_mm_per_kpa"]
    }

    fn value(&self, params: &[f64], x: f64) -> f64 {
        match params {
            [d0, c] => d0 + c * x,
            _ => f64::NAN,
        }
    }

    fn gradient(&self, _: &[f64], x: f64, out: &mut [f64]) {
        if let [d0, c] = out {
            (*d0, *c) = (1.0, x);
        }
    }
}

impl BalloonModel for Straight {
    fn name(&self) -> &'static str {
        "straight"
    }

    fn equation(&self) -> &'static str {
        "D = D0 + c p  (mm, kPa gauge)"
    }

    fn source(&self) -> &'static str {
        "common practice, no source"
    }

    fn guess(&self, pressure_kpa: &[f64], diameter_mm: &[f64]) -> Option<Vec<f64>> {
        let line = straight_line(pressure_kpa, diameter_mm, None).ok()?;
        Some(vec![line.at(0.0), line.at(1.0) - line.at(0.0)])
    }
}
