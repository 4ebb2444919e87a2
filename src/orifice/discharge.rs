//! Discharge coefficient from an effective and a geometric area.

use super::formula::{AreaKind, BORE, EOA, OrificeFormula, Symbol, input};
use std::f64::consts::PI;

/// Cd = EOA/(π D²/4).
pub struct DischargeCoefficient;

impl OrificeFormula for DischargeCoefficient {
    fn name(&self) -> &'static str {
        "discharge-coefficient"
    }
    fn equation(&self) -> &'static str {
        "Cd = EOA/(π D²/4), effective over bore area"
    }
    fn symbols(&self) -> &'static [Symbol] {
        &[EOA, BORE]
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
