//! Discharge coefficient from an effective and a geometric area.

use super::formula::{AreaKind, OrificeFormula, Symbol, input};
use super::geometric::BORE;
use std::f64::consts::PI;

/// Cd = EOA/(π D²/4).
pub struct DischargeCoefficient;

impl OrificeFormula for DischargeCoefficient {
    fn name(&self) -> &'static str {
        "discharge-coefficient"
    }
    fn equation(&self) -> &'static str {
        "Cd = EOA/(π D²/4)"
    }
    fn symbols(&self) -> &'static [Symbol] {
        &[
            Symbol {
                sign: "EOA",
                unit: "cm2",
                meaning: "effective orifice area",
                low: 0.05,
                high: 10.0,
            },
            BORE,
        ]
    }
    fn unit(&self) -> &'static str {
        "1"
    }
    fn kind(&self) -> AreaKind {
        AreaKind::Index
    }
    fn source(&self) -> &'static str {
        "definition, contraction included; in vitro 0.6 to 0.93"
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        input(x, 0) / (PI / 400.0 * input(x, 1).powi(2))
    }
}
