//! Why a statistic could not be computed.

use std::fmt;

/// Why a statistic could not be computed.
#[derive(Debug, Clone, PartialEq)]
pub enum StatsError {
    /// Fewer values than needed.
    TooFew {
        /// What there are too few of.
        what: &'static str,
        /// How many are needed.
        needed: usize,
        /// How many there are.
        found: usize,
    },
    /// A value is `NaN`, infinite, or not positive where it must be.
    BadValue {
        /// What the value must be.
        must_be: &'static str,
        /// Index of the first offending value.
        index: usize,
    },
    /// A parameter lies outside its range.
    OutOfRange {
        /// The parameter.
        what: &'static str,
        /// The range it must lie in.
        range: &'static str,
        /// What was given.
        found: f64,
    },
    /// Groups that must be of one size are not.
    Unbalanced {
        /// What there are differently many of.
        what: &'static str,
        /// How many the first group has.
        expected: usize,
        /// How many another has.
        found: usize,
    },
    /// The likelihood has no maximum at finite parameters.
    NoMaximum {
        /// Why.
        why: &'static str,
    },
    /// The iteration did not come to rest.
    NotConverged {
        /// What was being computed.
        what: &'static str,
    },
    /// The values do not differ: their scatter is below what was resolved.
    NoScatter,
}

impl fmt::Display for StatsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFew {
                what,
                needed,
                found,
            } => write!(f, "{what}: at least {needed} needed, {found} given"),
            Self::BadValue { must_be, index } => {
                write!(f, "the value at index {index} must be {must_be}")
            }
            Self::OutOfRange { what, range, found } => {
                write!(f, "{what} must be {range}, not {found}")
            }
            Self::Unbalanced {
                what,
                expected,
                found,
            } => write!(f, "{what}: {expected} in one place, {found} in another"),
            Self::NoMaximum { why } => write!(f, "no maximum-likelihood estimate: {why}"),
            Self::NotConverged { what } => write!(f, "{what} did not converge"),
            Self::NoScatter => write!(
                f,
                "the values do not differ, so their scatter is below what was resolved"
            ),
        }
    }
}

impl std::error::Error for StatsError {}

/// Fails unless `0 < p < 1`.
pub(super) fn check_probability(what: &'static str, p: f64) -> Result<(), StatsError> {
    if p > 0.0 && p < 1.0 {
        Ok(())
    } else {
        Err(StatsError::OutOfRange {
            what,
            range: "between 0 and 1, ends excluded",
            found: p,
        })
    }
}

/// Fails on the first value that is not finite.
pub(super) fn check_finite(values: &[f64]) -> Result<(), StatsError> {
    match values.iter().position(|v| !v.is_finite()) {
        Some(index) => Err(StatsError::BadValue {
            must_be: "a finite number",
            index,
        }),
        None => Ok(()),
    }
}
