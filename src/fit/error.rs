//! Why a fit could not be made at all.

use std::fmt;

/// Why a fit could not be made. A fit that was made but is doubtful is returned with its [`StopReason`](super::StopReason).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FitError {
    /// Two inputs that must be equally long are not.
    LengthMismatch {
        /// What was too long or too short.
        what: &'static str,
        /// The length needed.
        expected: usize,
        /// The length given.
        found: usize,
    },
    /// Fewer data points than the fit needs.
    TooFewPoints {
        /// Points needed.
        needed: usize,
        /// Points given (of different x where that matters).
        found: usize,
    },
    /// There is no parameter to fit.
    NoParameters,
    /// An input is `NaN` or infinite.
    NotFinite {
        /// Which input.
        what: &'static str,
        /// Index of the first offending entry.
        index: usize,
    },
    /// A weight is zero or negative.
    BadWeight {
        /// Index of the first offending weight.
        index: usize,
    },
    /// An uncertainty is negative, or zero where it must not be.
    BadUncertainty {
        /// Which input.
        what: &'static str,
        /// Index of the first offending entry.
        index: usize,
    },
    /// The column is (nearly) a combination of the columns before it, so that its parameter has no value of its own.
    Singular {
        /// Index of the column in the design matrix.
        column: usize,
    },
    /// A lower bound is not below the upper one, or the start lies outside the bounds.
    BadBound {
        /// Index of the parameter.
        parameter: usize,
    },
    /// The model has no finite value at the start parameters.
    StartNotFinite {
        /// Index of the first data point at which it fails.
        index: usize,
    },
}

impl fmt::Display for FitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::LengthMismatch {
                what,
                expected,
                found,
            } => write!(
                f,
                "{what}: {expected} values are needed, {found} were given"
            ),
            Self::TooFewPoints { needed, found } => {
                write!(
                    f,
                    "at least {needed} different points are needed, there are {found}"
                )
            }
            Self::NoParameters => f.write_str("there is no parameter to fit"),
            Self::NotFinite { what, index } => {
                write!(
                    f,
                    "{what}: the value at index {index} is not a finite number"
                )
            }
            Self::BadWeight { index } => {
                write!(f, "the weight at index {index} is not greater than zero")
            }
            Self::BadUncertainty { what, index } => write!(
                f,
                "{what}: the uncertainty at index {index} is negative, or zero where it must not be"
            ),
            Self::Singular { column } => write!(
                f,
                "column {column} of the design is a combination of the columns before it"
            ),
            Self::BadBound { parameter } => write!(
                f,
                "parameter {parameter}: the bounds are empty or the start lies outside them"
            ),
            Self::StartNotFinite { index } => write!(
                f,
                "the model has no finite value at the start parameters (data point {index})"
            ),
        }
    }
}

impl std::error::Error for FitError {}

/// Fails on the first value that is not finite.
pub(super) fn check_finite(what: &'static str, values: &[f64]) -> Result<(), FitError> {
    match values.iter().position(|v| !v.is_finite()) {
        Some(index) => Err(FitError::NotFinite { what, index }),
        None => Ok(()),
    }
}

/// Fails unless `found` is `expected`.
pub(super) fn check_length(
    what: &'static str,
    expected: usize,
    found: usize,
) -> Result<(), FitError> {
    if expected == found {
        Ok(())
    } else {
        Err(FitError::LengthMismatch {
            what,
            expected,
            found,
        })
    }
}

/// Checks the weights: as many as points, each finite and greater than zero.
pub(super) fn check_weights(weights: Option<&[f64]>, points: usize) -> Result<(), FitError> {
    let Some(weights) = weights else {
        return Ok(());
    };
    check_length("weights", points, weights.len())?;
    check_finite("weights", weights)?;
    match weights.iter().position(|&w| w <= 0.0) {
        Some(index) => Err(FitError::BadWeight { index }),
        None => Ok(()),
    }
}
