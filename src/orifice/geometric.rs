//! Geometric area of a bore.

use super::formula::{AreaKind, BORE, OrificeFormula, Symbol, input};
use std::f64::consts::PI;

/// A = π D²/4: the opening if the leaflets vanished. Never an effective area.
pub struct GeometricArea;

impl OrificeFormula for GeometricArea {
    fn name(&self) -> &'static str {
        "geometric-area"
    }
    fn equation(&self) -> &'static str {
        "A = π D²/4"
    }
    fn symbols(&self) -> &'static [Symbol] {
        &[BORE]
    }
    fn unit(&self) -> &'static str {
        "mm2"
    }
    fn kind(&self) -> AreaKind {
        AreaKind::Geometric
    }
    fn source(&self) -> &'static str {
        "circle; an upper bound of the open area"
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        PI / 4.0 * input(x, 0).powi(2)
    }
}
