//! Effective orifice area from RMS flow.

use super::formula::{AreaKind, OrificeFormula, Symbol, input};

/// Constant of the effective orifice area, √(2 × 1333.22 dyn/cm² per mmHg) = 51.64, printed as 51.6 (ISO 5840).
pub const EOA_CONSTANT: f64 = 51.6;

/// EOA = Q_RMS/(51.6 √(Δp/ρ)).
pub struct EffectiveArea;

impl OrificeFormula for EffectiveArea {
    fn name(&self) -> &'static str {
        "effective-orifice-area"
    }
    fn equation(&self) -> &'static str {
        "EOA = Q_RMS/(51.6 √(Δp/ρ)) over the positive-pressure period of forward flow"
    }
    fn symbols(&self) -> &'static [Symbol] {
        &[
            Symbol {
                sign: "Q_RMS",
                unit: "mL/s",
                meaning: "root mean square forward flow over the positive-pressure period",
                low: 1.0,
                high: 2000.0,
            },
            Symbol {
                sign: "Δp",
                unit: "mmHg",
                meaning: "mean pressure difference over the same period",
                low: 0.1,
                high: 200.0,
            },
            Symbol {
                sign: "ρ",
                unit: "g/mL",
                meaning: "density of the test fluid",
                low: 0.9,
                high: 1.3,
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
        "ISO 5840, constant 51.6; neither mean flow, peak gradient nor the whole ejection period may stand in"
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        input(x, 0) / (EOA_CONSTANT * (input(x, 1) / input(x, 2)).sqrt())
    }
}
