//! Bounds on parameters, by fitting a transformed parameter that cannot leave them.
//!
//! The transformation is the one of James & Roos (1975), Comput. Phys. Commun. 10:343: sine between two bounds, square root beside one.

use super::error::FitError;

/// Where a parameter may lie; infinities leave a side open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// Smallest value allowed.
    pub lower: f64,
    /// Largest value allowed.
    pub upper: f64,
}

impl Bound {
    /// Any value.
    pub const FREE: Self = Self {
        lower: f64::NEG_INFINITY,
        upper: f64::INFINITY,
    };

    /// `lower <= parameter <= upper`.
    pub fn between(lower: f64, upper: f64) -> Self {
        Self { lower, upper }
    }

    /// `parameter >= lower`.
    pub fn at_least(lower: f64) -> Self {
        Self {
            lower,
            upper: f64::INFINITY,
        }
    }

    /// Fails unless the bound is a range that holds the start value.
    pub(super) fn check(&self, start: f64, parameter: usize) -> Result<(), FitError> {
        if self.lower < self.upper && self.lower <= start && start <= self.upper {
            Ok(())
        } else {
            Err(FitError::BadBound { parameter })
        }
    }

    /// The free parameter that stands for the value `p`. A value exactly on a bound is moved inside a little, since the
    /// transformation has no slope there and the fit could never leave.
    pub(super) fn to_free(self, p: f64) -> f64 {
        /// Part of the range, or of the magnitude, by which a start on the bound is moved inside.
        const INSIDE: f64 = 1e-3;
        match (self.lower.is_finite(), self.upper.is_finite()) {
            (true, true) => {
                let part =
                    ((p - self.lower) / (self.upper - self.lower)).clamp(INSIDE, 1.0 - INSIDE);
                (2.0 * part - 1.0).asin()
            }
            (true, false) => above(p - self.lower, self.lower, INSIDE),
            (false, true) => above(self.upper - p, self.upper, INSIDE),
            (false, false) => p,
        }
    }

    /// The value that the free parameter `q` stands for.
    pub(super) fn value_of(self, q: f64) -> f64 {
        match (self.lower.is_finite(), self.upper.is_finite()) {
            (true, true) => {
                let middle = 0.5 * self.lower + 0.5 * self.upper;
                let half = 0.5 * self.upper - 0.5 * self.lower;
                (middle + half * q.sin()).clamp(self.lower, self.upper)
            }
            (true, false) => self.lower + rise(q),
            (false, true) => self.upper - rise(q),
            (false, false) => q,
        }
    }

    /// Derivative of the value with respect to the free parameter.
    pub(super) fn slope(self, q: f64) -> f64 {
        match (self.lower.is_finite(), self.upper.is_finite()) {
            (true, true) => 0.5 * (self.upper - self.lower) * q.cos(),
            (true, false) => q / q.hypot(1.0),
            (false, true) => -q / q.hypot(1.0),
            (false, false) => 1.0,
        }
    }

    /// The bound that `p` nearly touches, if any: nearer than `TOUCH` of the range, or of the magnitude where one side is open.
    pub(super) fn touched(self, p: f64) -> Option<f64> {
        const TOUCH: f64 = 1e-3;
        let range = if self.lower.is_finite() && self.upper.is_finite() {
            self.upper - self.lower
        } else {
            p.abs().max(1e-3)
        };
        [self.lower, self.upper]
            .into_iter()
            .find(|edge| edge.is_finite() && (p - edge).abs() <= TOUCH * range)
    }
}

/// `sqrt(q² + 1) - 1` without cancellation for small `q`.
fn rise(q: f64) -> f64 {
    let root = q.hypot(1.0);
    if q.abs() < 1.0 {
        q * (q / (root + 1.0))
    } else {
        root - 1.0
    }
}

/// Inverse of [`rise`] for the distance of a value to its bound, moved inside if it is nothing.
fn above(distance: f64, edge: f64, inside: f64) -> f64 {
    let d = distance.max(inside * edge.abs().max(1e-3));
    (d * (d + 2.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::Bound;

    #[test]
    fn there_and_back() {
        for (bound, p) in [
            (Bound::between(-2.0, 5.0), 1.25),
            (Bound::at_least(3.0), 3.5),
            (
                Bound {
                    lower: f64::NEG_INFINITY,
                    upper: 3.0,
                },
                -700.0,
            ),
            (Bound::FREE, 12.0),
        ] {
            let q = bound.to_free(p);
            assert!((bound.value_of(q) - p).abs() < 1e-12 * p.abs().max(1.0));
            let h = 1e-6;
            let slope = (bound.value_of(q + h) - bound.value_of(q - h)) / (2.0 * h);
            assert!((slope - bound.slope(q)).abs() < 1e-6 * slope.abs().max(1.0));
        }
    }
}
