//! What was seen of a strength: its value, or a range it lies in.

use super::error::StatsError;
use super::location_scale::Datum;

/// A strength that was measured, or was not reached (right-censored).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// The strength, or the highest load reached without failure.
    pub value: f64,
    /// True if there was no failure up to `value`.
    pub censored: bool,
}

impl Observation {
    /// A failure at `value`.
    pub fn failure(value: f64) -> Self {
        Self {
            value,
            censored: false,
        }
    }

    /// No failure up to `value`.
    pub fn censored(value: f64) -> Self {
        Self {
            value,
            censored: true,
        }
    }
}

/// A strength known to lie in `(above, up_to]`, or known by its value where both are equal.
///
/// `up_to = ∞` is right-censored, `above = -∞` (or 0 for a strength that is positive) left-censored.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IntervalObservation {
    /// Highest load known to be withstood.
    pub above: f64,
    /// Lowest load known to be too much.
    pub up_to: f64,
}

impl IntervalObservation {
    /// A failure at `value`.
    pub fn failure(value: f64) -> Self {
        Self::between(value, value)
    }

    /// A failure in the step from `above` to `up_to`.
    pub fn between(above: f64, up_to: f64) -> Self {
        Self { above, up_to }
    }

    /// No failure up to `above`.
    pub fn censored(above: f64) -> Self {
        Self {
            above,
            up_to: f64::INFINITY,
        }
    }

    /// True for a range with two ends.
    pub fn is_step(&self) -> bool {
        self.above.is_finite() && self.up_to.is_finite() && self.above < self.up_to
    }

    /// The strength itself where it is known.
    pub fn value(&self) -> Option<f64> {
        (self.above == self.up_to).then_some(self.up_to)
    }
}

impl From<Observation> for IntervalObservation {
    fn from(seen: Observation) -> Self {
        if seen.censored {
            Self::censored(seen.value)
        } else {
            Self::failure(seen.value)
        }
    }
}

/// What the logarithm of a density gains from logarithms to the values themselves: density of x = density of ln x over x.
pub(super) fn ln_jacobian_of_logarithm(exact: impl Iterator<Item = f64>) -> f64 {
    -exact.map(f64::ln).sum::<f64>()
}

/// Takes the observations over on the scale `transform`, checking that each is finite (and positive where asked); one without any information
/// is refused. Where both ends are equal the value is exact.
pub(super) fn data_of_intervals(
    observations: &[IntervalObservation],
    positive: bool,
    transform: impl Fn(f64) -> f64,
) -> Result<Vec<Datum>, StatsError> {
    let mut data = Vec::with_capacity(observations.len());
    for (index, o) in observations.iter().enumerate() {
        let above = if positive && o.above <= 0.0 {
            f64::NEG_INFINITY
        } else {
            transform(o.above)
        };
        let up_to = if positive && o.up_to <= 0.0 {
            f64::NAN
        } else if o.up_to == f64::INFINITY {
            f64::INFINITY
        } else {
            transform(o.up_to)
        };
        let informs = above.is_finite() || up_to.is_finite();
        if !(above <= up_to && informs) {
            return Err(StatsError::BadValue {
                must_be: "an interval (above, up_to] that leaves something out, or a value",
                index,
            });
        }
        data.push(Datum::between(above, up_to));
    }
    Ok(data)
}
