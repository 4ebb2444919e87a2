//! Gorlin's area from cardiac output.

use super::formula::{AreaKind, OrificeFormula, Symbol, input};

/// Gorlin's constant for the aortic position; empirical, near √(2 × 980.665) in cm units.
pub const GORLIN_AORTIC: f64 = 44.3;
/// Gorlin's constant for the mitral position, 0.85 × 44.3.
pub const GORLIN_MITRAL: f64 = 37.7;

const SYMBOLS: &[Symbol] = &[
    Symbol {
        sign: "CO",
        unit: "mL/min",
        meaning: "cardiac output",
        low: 500.0,
        high: 20_000.0,
    },
    Symbol {
        sign: "HR",
        unit: "1/min",
        meaning: "heart rate",
        low: 20.0,
        high: 250.0,
    },
    Symbol {
        sign: "T",
        unit: "s",
        meaning: "flow period of one beat (ejection or filling)",
        low: 0.1,
        high: 1.5,
    },
    Symbol {
        sign: "Δp",
        unit: "mmHg",
        meaning: "mean gradient",
        low: 0.5,
        high: 200.0,
    },
];

fn area(x: &[f64], constant: f64) -> f64 {
    input(x, 0) / (input(x, 1) * input(x, 2) * constant * input(x, 3).sqrt())
}

/// A = CO/(HR SEP 44.3 √Δp).
pub struct GorlinAortic;

impl OrificeFormula for GorlinAortic {
    fn name(&self) -> &'static str {
        "gorlin-aortic"
    }
    fn equation(&self) -> &'static str {
        "A = CO/(HR T 44.3 √Δp)"
    }
    fn symbols(&self) -> &'static [Symbol] {
        SYMBOLS
    }
    fn unit(&self) -> &'static str {
        "cm2"
    }
    fn kind(&self) -> AreaKind {
        AreaKind::Effective
    }
    fn source(&self) -> &'static str {
        "Gorlin and Gorlin (1951), Am Heart J 41:1; CO in mL/min; differs from 51.6/√ρ by its empirical constant"
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        area(x, GORLIN_AORTIC)
    }
}

/// A = CO/(HR DFP 37.7 √Δp).
pub struct GorlinMitral;

impl OrificeFormula for GorlinMitral {
    fn name(&self) -> &'static str {
        "gorlin-mitral"
    }
    fn equation(&self) -> &'static str {
        "A = CO/(HR T 37.7 √Δp)"
    }
    fn symbols(&self) -> &'static [Symbol] {
        SYMBOLS
    }
    fn unit(&self) -> &'static str {
        "cm2"
    }
    fn kind(&self) -> AreaKind {
        AreaKind::Effective
    }
    fn source(&self) -> &'static str {
        "Gorlin and Gorlin (1951), Am Heart J 41:1; constant 0.85 × 44.3 for the mitral position"
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        area(x, GORLIN_MITRAL)
    }
}
