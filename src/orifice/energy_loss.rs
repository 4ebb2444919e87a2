//! Effective area corrected for pressure recovery.

use super::formula::{AreaKind, EOA, OrificeError, OrificeFormula, Symbol, input};
use std::f64::consts::PI;

/// Energy-loss coefficient ELCo = EOA A/(A − EOA), A the section of the aorta (or test tube).
pub struct EnergyLoss;

fn section(diameter_mm: f64) -> f64 {
    PI / 400.0 * diameter_mm * diameter_mm
}

impl OrificeFormula for EnergyLoss {
    fn name(&self) -> &'static str {
        "energy-loss-coefficient"
    }
    fn equation(&self) -> &'static str {
        "ELCo = EOA A/(A − EOA), A = π D²/4"
    }
    fn symbols(&self) -> &'static [Symbol] {
        &[
            EOA,
            Symbol {
                sign: "D",
                unit: "mm",
                meaning: "diameter of the tube behind the orifice",
                low: 5.0,
                high: 60.0,
            },
        ]
    }
    fn unit(&self) -> &'static str {
        "cm2"
    }
    fn kind(&self) -> AreaKind {
        AreaKind::Index
    }
    fn source(&self) -> &'static str {
        "Garcia et al. (2000), Circulation 101:765"
    }
    fn consistent(&self, x: &[f64]) -> Result<(), OrificeError> {
        if input(x, 0) < section(input(x, 1)) {
            Ok(())
        } else {
            Err(OrificeError::Contradiction(
                "the effective area is not below the section of the tube",
            ))
        }
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        let (eoa, tube) = (input(x, 0), section(input(x, 1)));
        eoa * tube / (tube - eoa)
    }
}
