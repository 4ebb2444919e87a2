//! Area a bore might be worth, from an assumed discharge coefficient.

use super::formula::{AreaKind, OrificeError, OrificeFormula, Symbol, input};
use super::geometric::BORE;
use std::f64::consts::PI;

/// Discharge coefficients (effective over geometric area) found in vitro: 0.6 (mechanical valves, lower end) to 0.93 (rounded
/// orifices, upper end).
pub const DISCHARGE_RANGE: (f64, f64) = (0.6, 0.93);

/// A = Cd π D²/4 with Cd assumed: a surrogate, printed with the range of Cd, never as an effective area.
pub struct DischargeSurrogate;

impl OrificeFormula for DischargeSurrogate {
    fn name(&self) -> &'static str {
        "discharge-surrogate"
    }
    fn equation(&self) -> &'static str {
        "A = Cd π D²/4, Cd assumed"
    }
    fn symbols(&self) -> &'static [Symbol] {
        &[
            BORE,
            Symbol {
                sign: "Cd",
                unit: "1",
                meaning: "discharge coefficient, contraction included",
                low: 0.3,
                high: 1.0,
            },
        ]
    }
    fn unit(&self) -> &'static str {
        "cm2"
    }
    fn kind(&self) -> AreaKind {
        AreaKind::Surrogate
    }
    fn source(&self) -> &'static str {
        "published in vitro coefficients of 0.6 to 0.93; not measured on this frame"
    }
    fn equation_value(&self, x: &[f64]) -> f64 {
        input(x, 1) * PI / 400.0 * input(x, 0).powi(2)
    }
}

/// Surrogate areas, cm², at both ends of [`DISCHARGE_RANGE`] for a bore in mm.
///
/// # Errors
/// [`OrificeError::OutOfRange`] for a bore outside 1 to 60 mm.
pub fn surrogate_range(bore_mm: f64) -> Result<(f64, f64), OrificeError> {
    Ok((
        DischargeSurrogate.compute(&[bore_mm, DISCHARGE_RANGE.0])?,
        DischargeSurrogate.compute(&[bore_mm, DISCHARGE_RANGE.1])?,
    ))
}
