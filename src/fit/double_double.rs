//! Numbers of twice the precision of `f64` (about 32 digits), as an unevaluated sum of two.
//!
//! Least squares loses as many digits as the condition number of the design has; polynomials of degree ten have condition numbers near
//! 1e15, which leaves nothing of 16 digits but plenty of 32. Algorithms: Dekker (1971), Numer. Math. 18:224; Knuth, TAOCP vol. 2, 4.2.2.

use std::ops::{Add, Mul, Neg, Sub};

/// `hi + lo` with `|lo|` at most half a unit in the last place of `hi`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Dd {
    hi: f64,
    lo: f64,
}

/// Sum and its rounding error for any order of magnitude (Knuth).
fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    let t = s - a;
    (s, (a - (s - t)) + (b - t))
}

/// Sum and its rounding error where `|a| >= |b|` (Dekker).
fn quick_two_sum(a: f64, b: f64) -> (f64, f64) {
    let s = a + b;
    (s, b - (s - a))
}

/// Product and its rounding error, by the fused multiply-add.
fn two_product(a: f64, b: f64) -> (f64, f64) {
    let p = a * b;
    (p, a.mul_add(b, -p))
}

impl Dd {
    pub(super) const ZERO: Self = Self { hi: 0.0, lo: 0.0 };
    pub(super) const ONE: Self = Self { hi: 1.0, lo: 0.0 };

    /// Rounded to the nearest `f64`.
    pub(super) fn to_f64(self) -> f64 {
        self.hi + self.lo
    }

    /// Quotient, by long division with two corrections.
    pub(super) fn over(self, divisor: Self) -> Self {
        let q1 = self.hi / divisor.hi;
        let r = self - divisor * Self::from(q1);
        let q2 = r.hi / divisor.hi;
        let r = r - divisor * Self::from(q2);
        let q3 = r.hi / divisor.hi;
        let (hi, lo) = quick_two_sum(q1, q2);
        Self { hi, lo } + Self::from(q3)
    }

    /// Square root of a number that is not negative: one Newton step from the `f64` root.
    pub(super) fn sqrt(self) -> Self {
        if self.hi <= 0.0 {
            return Self::ZERO;
        }
        let root = Self::from(self.hi.sqrt());
        let half = (self - root * root).over(root + root);
        root + half
    }
}

impl From<f64> for Dd {
    fn from(value: f64) -> Self {
        Self { hi: value, lo: 0.0 }
    }
}

impl Add for Dd {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        let (s, e) = two_sum(self.hi, other.hi);
        let (t, f) = two_sum(self.lo, other.lo);
        let (s, e) = quick_two_sum(s, e + t);
        let (hi, lo) = quick_two_sum(s, e + f);
        Self { hi, lo }
    }
}

impl Neg for Dd {
    type Output = Self;
    fn neg(self) -> Self {
        Self {
            hi: -self.hi,
            lo: -self.lo,
        }
    }
}

impl Sub for Dd {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Mul for Dd {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let (p, e) = two_product(self.hi, other.hi);
        let (hi, lo) = quick_two_sum(p, e + (self.hi * other.lo + self.lo * other.hi));
        Self { hi, lo }
    }
}

#[cfg(test)]
mod tests {
    use super::Dd;

    #[test]
    fn keeps_what_f64_loses() {
        // (1 + 2^-60) - 1 = 2^-60 exactly; in f64 the sum rounds to 1.
        let tiny = (2.0_f64).powi(-60);
        let sum = Dd::from(1.0) + Dd::from(tiny);
        assert_eq!((sum - Dd::ONE).to_f64(), tiny);
    }

    #[test]
    fn root_and_quotient_are_inverse_to_32_digits() {
        let two = Dd::from(2.0);
        let root = two.sqrt();
        assert!((root * root - two).to_f64().abs() < 1e-31);
        let third = Dd::ONE.over(Dd::from(3.0));
        assert!((third * Dd::from(3.0) - Dd::ONE).to_f64().abs() < 1e-31);
    }
}
