//! Areas over a body surface.

use super::formula::{AreaKind, EOA, OrificeFormula, Symbol, input};

/// Body surfaces met, from a newborn to the largest adult, m².
const BODY_SURFACE: Symbol = Symbol {
    sign: "BSA",
    unit: "m2",
    meaning: "body surface of a hypothetical patient",
    low: 0.15,
    high: 4.0,
};

/// iEOA = EOA/BSA.
pub struct IndexedArea;

impl OrificeFormula for IndexedArea {
    fn name(&self) -> &'static str {
        "indexed-area"
    }
    fn equation(&self) -> &'static str {
        "iEOA = EOA/BSA"
    }
    fn symbols(&self) -> &'static [Symbol] {
        &[EOA, BODY_SURFACE]
    }
    fn unit(&self) -> &'static str {
        "cm2/m2"
    }
    fn kind(&self) -> AreaKind {
        AreaKind::Index
    }
    fn source(&self) -> &'static str {
        "definition; on a bench the patient is hypothetical"
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        input(x, 0) / input(x, 1)
    }
}

/// ELI = ELCo/BSA.
pub struct EnergyLossIndex;

impl OrificeFormula for EnergyLossIndex {
    fn name(&self) -> &'static str {
        "energy-loss-index"
    }
    fn equation(&self) -> &'static str {
        "ELI = ELCo/BSA"
    }
    fn symbols(&self) -> &'static [Symbol] {
        &[
            Symbol {
                sign: "ELCo",
                unit: "cm2",
                meaning: "energy-loss coefficient",
                low: 0.05,
                high: 30.0,
            },
            BODY_SURFACE,
        ]
    }
    fn unit(&self) -> &'static str {
        "cm2/m2"
    }
    fn kind(&self) -> AreaKind {
        AreaKind::Index
    }
    fn source(&self) -> &'static str {
        "Garcia et al. (2000), Circulation 101:765; on a bench the patient is hypothetical"
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        input(x, 0) / input(x, 1)
    }
}
