//! Unfolding that dies out, then straight growth.

use super::BalloonModel;
use crate::fit::{Model, straight_line};

/// `D = D0 + c p + b (1 - exp(-p / p1))`; D in mm, p in kPa gauge.
pub(super) struct Saturating;

impl Model for Saturating {
    fn names(&self) -> &[&str] {
        &[
            "unfolded_diameter_mm",
            "growth_mm_per_kpa",
            "unfolding_mm",
            "unfolding_pressure_kpa",
        ]
    }

    fn value(&self, params: &[f64], x: f64) -> f64 {
        match params {
            [d0, c, b, p1] if *p1 > 0.0 => d0 + c * x + b * (1.0 - (-x / p1).exp()),
            _ => f64::NAN,
        }
    }

    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        if let ([_, _, b, p1], [d0, c, of_b, of_p1]) = (params, out) {
            let left = (-x / p1).exp();
            (*d0, *c) = (1.0, x);
            *of_b = 1.0 - left;
            *of_p1 = -b * left * x / (p1 * p1);
        }
    }
}

impl BalloonModel for Saturating {
    fn name(&self) -> &'static str {
        "saturating"
    }

    fn equation(&self) -> &'static str {
        "D = D0 + c p + b (1 - exp(-p / p1))  (mm, kPa gauge)"
    }

    fn source(&self) -> &'static str {
        "common practice, no source"
    }

    fn guess(&self, pressure_kpa: &[f64], diameter_mm: &[f64]) -> Option<Vec<f64>> {
        if pressure_kpa.len() < 6 {
            return None;
        }
        let upper = pressure_kpa.len() / 2;
        let line = straight_line(&pressure_kpa[upper..], &diameter_mm[upper..], None).ok()?;
        let c = line.at(1.0) - line.at(0.0);
        let b = (line.at(0.0) - diameter_mm.first()?).max(0.01);
        let p1 = (pressure_kpa.last()? / 6.0).max(1.0);
        Some(vec![line.at(0.0) - b, c, b, p1])
    }
}
