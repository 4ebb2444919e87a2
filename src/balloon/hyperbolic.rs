//! Unfolding with a long tail, then straight growth.

use super::BalloonModel;
use crate::fit::{Model, straight_line};

/// `D = D0 + c p + b p / (p + p1)`; D in mm, p in kPa gauge.
pub(super) struct Hyperbolic;

impl Model for Hyperbolic {
    fn names(&self) -> &[&str] {
        &[
            "unfolded_diameter_mm",
            "growth_mm_per_kpa",
            "unfolding_mm",
            "half_pressure_kpa",
        ]
    }

    fn value(&self, params: &[f64], x: f64) -> f64 {
        match params {
            [d0, c, b, p1] if *p1 > 0.0 => d0 + c * x + b * x / (x + p1),
            _ => f64::NAN,
        }
    }

    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        if let ([_, _, b, p1], [d0, c, of_b, of_p1]) = (params, out) {
            (*d0, *c) = (1.0, x);
            *of_b = x / (x + p1);
            *of_p1 = -b * x / (x + p1).powi(2);
        }
    }
}

impl BalloonModel for Hyperbolic {
    fn name(&self) -> &'static str {
        "hyperbolic"
    }

    fn equation(&self) -> &'static str {
        "D = D0 + c p + b p / (p + p1)  (mm, kPa gauge)"
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
        Some(vec![
            line.at(0.0) - b,
            0.8 * c,
            1.3 * b,
            (pressure_kpa.last()? / 8.0).max(1.0),
        ])
    }
}
