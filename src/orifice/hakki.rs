//! Hakki's short form of Gorlin's area.

use super::formula::{AreaKind, OrificeFormula, Symbol, input};

/// A = CO/√Δp.
pub struct Hakki;

impl OrificeFormula for Hakki {
    fn name(&self) -> &'static str {
        "hakki"
    }
    fn equation(&self) -> &'static str {
        "A = CO/√Δp"
    }
    fn symbols(&self) -> &'static [Symbol] {
        &[
            Symbol {
                sign: "CO",
                unit: "L/min",
                meaning: "cardiac output",
                low: 0.5,
                high: 20.0,
            },
            Symbol {
                sign: "Δp",
                unit: "mmHg",
                meaning: "mean (or peak-to-peak) gradient",
                low: 0.5,
                high: 200.0,
            },
        ]
    }
    fn unit(&self) -> &'static str {
        "cm2"
    }
    fn kind(&self) -> AreaKind {
        AreaKind::Effective
    }
    fn source(&self) -> &'static str {
        "Hakki et al. (1981), Circulation 63:1050; rests on HR × SEP × 44.3 ≈ 1000, so only near a normal heart rate"
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        input(x, 0) / input(x, 1).sqrt()
    }
}
