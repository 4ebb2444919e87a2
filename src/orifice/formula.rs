//! What an orifice formula is.

use crate::uncertain::{Quantity, propagate};
use std::fmt;

/// What the area of a formula stands for. An effective area needs flow; an area from a diameter is geometric or a surrogate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AreaKind {
    /// From flow and pressure difference.
    Effective,
    /// From a diameter.
    Geometric,
    /// From a diameter and an assumed discharge coefficient.
    Surrogate,
    /// No area: an index made from areas.
    Index,
}

/// An input of a formula, with the range it was made for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Symbol {
    /// Sign in the equation.
    pub sign: &'static str,
    /// Unit.
    pub unit: &'static str,
    /// Meaning.
    pub meaning: &'static str,
    /// Lowest sensible value, in the unit.
    pub low: f64,
    /// Highest sensible value, in the unit.
    pub high: f64,
}

/// Why a formula gave no value.
#[derive(Debug, Clone, PartialEq)]
pub enum OrificeError {
    /// The wrong number of inputs.
    Count {
        /// Inputs given.
        given: usize,
        /// Inputs needed.
        needed: usize,
    },
    /// An input outside its range.
    OutOfRange {
        /// Sign of the input.
        sign: &'static str,
        /// Value given.
        value: f64,
        /// Lowest sensible value.
        low: f64,
        /// Highest sensible value.
        high: f64,
        /// Unit.
        unit: &'static str,
    },
    /// The inputs are each in range but contradict each other.
    Contradiction(&'static str),
}

impl fmt::Display for OrificeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Count { given, needed } => write!(f, "{given} inputs given, {needed} needed"),
            Self::OutOfRange {
                sign,
                value,
                low,
                high,
                unit,
            } => write!(
                f,
                "{sign} = {value} {unit} is outside {low} to {high} {unit}"
            ),
            Self::Contradiction(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for OrificeError {}

/// Range of bores met, mm.
pub(super) const BORE: Symbol = Symbol {
    sign: "D",
    unit: "mm",
    meaning: "inner diameter",
    low: 1.0,
    high: 60.0,
};

/// Range of effective orifice areas met, cm².
pub(super) const EOA: Symbol = Symbol {
    sign: "EOA",
    unit: "cm2",
    meaning: "effective orifice area",
    low: 0.05,
    high: 10.0,
};

/// One formula of the list [`super::FORMULAS`]. Adding one is one file and one line in the list.
pub trait OrificeFormula: Sync {
    /// Short name, in kebab-case.
    fn name(&self) -> &'static str;
    /// The equation as text.
    fn equation(&self) -> &'static str;
    /// The inputs in the order of [`Self::compute`].
    fn symbols(&self) -> &'static [Symbol];
    /// Unit of the result.
    fn unit(&self) -> &'static str;
    /// What the result stands for.
    fn kind(&self) -> AreaKind;
    /// Where it comes from and when it holds.
    fn source(&self) -> &'static str;
    /// The bare equation; inputs are checked by [`Self::compute`].
    fn equation_value(&self, inputs: &[f64]) -> f64;

    /// Checks beyond the range of each input.
    ///
    /// # Errors
    /// [`OrificeError::Contradiction`].
    fn consistent(&self, _inputs: &[f64]) -> Result<(), OrificeError> {
        Ok(())
    }

    /// The result for inputs in the order and units of [`Self::symbols`].
    ///
    /// # Errors
    /// [`OrificeError`] for a wrong number of inputs, an input out of range, or inputs that contradict each other.
    fn compute(&self, inputs: &[f64]) -> Result<f64, OrificeError> {
        let symbols = self.symbols();
        if inputs.len() != symbols.len() {
            return Err(OrificeError::Count {
                given: inputs.len(),
                needed: symbols.len(),
            });
        }
        for (symbol, &value) in symbols.iter().zip(inputs) {
            if !(symbol.low..=symbol.high).contains(&value) {
                return Err(OrificeError::OutOfRange {
                    sign: symbol.sign,
                    value,
                    low: symbol.low,
                    high: symbol.high,
                    unit: symbol.unit,
                });
            }
        }
        self.consistent(inputs)?;
        Ok(self.equation_value(inputs))
    }

    /// The result with its standard uncertainty from the inputs' (uncorrelated).
    fn evaluate(&self, inputs: &[f64], u: &[f64]) -> Quantity {
        let value = match self.compute(inputs) {
            Ok(value) => value,
            Err(error) => return Quantity::missing(self.unit(), error.to_string()),
        };
        match propagate(|x| self.equation_value(x), inputs, u, None) {
            Some(result) => Quantity::known(value, result.u, self.unit(), self.equation()),
            None => Quantity::without_u(
                value,
                self.unit(),
                self.equation(),
                "the uncertainties of the inputs do not propagate",
            ),
        }
    }
}

/// Input `i`; NaN where it is missing, which no check lets through.
pub(super) fn input(inputs: &[f64], i: usize) -> f64 {
    inputs.get(i).copied().unwrap_or(f64::NAN)
}
