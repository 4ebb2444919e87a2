//! Area a bore might be worth, from an assumed discharge coefficient.

use super::formula::{AreaKind, BORE, OrificeFormula, Symbol, input};
use crate::recording::SurrogateRange;
use crate::uncertain::Quantity;
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

/// What a bore (mm) might be worth as an orifice: the surrogate at both ends of [`DISCHARGE_RANGE`], cm². How far off the coefficient may be is
/// the range, not the uncertainty, which is that of the bore alone.
pub fn surrogate_range_of(bore: &Quantity) -> SurrogateRange {
    SurrogateRange {
        low: at(bore, DISCHARGE_RANGE.0),
        high: at(bore, DISCHARGE_RANGE.1),
    }
}

/// The surrogate of a bore at a discharge coefficient.
fn at(bore: &Quantity, cd: f64) -> Quantity {
    let formula = &DischargeSurrogate;
    let mut area = match bore.pair() {
        Some((d, u)) => formula.evaluate(&[d, cd], &[u, 0.0]),
        None => match formula.compute(&[bore.value.unwrap_or(f64::NAN), cd]) {
            Ok(area) => Quantity::without_u(
                area,
                formula.unit(),
                formula.equation(),
                "the bore has no uncertainty",
            ),
            Err(error) => Quantity::missing(formula.unit(), error.to_string()),
        },
    };
    area.method = format!(
        "surrogate, no effective orifice area: {}: {cd}; {}",
        formula.equation(),
        formula.source()
    );
    area
}
