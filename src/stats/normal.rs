//! The normal distribution to full `f64` precision, tails and logarithms included.
//!
//! `statrs` has erf to about ten digits only, too few for a likelihood that is differentiated; here are the rational approximations of Cody
//! (1969), Math. Comp. 23:631-637.

// Coefficients stand as printed.
#![allow(clippy::excessive_precision)]

use std::f64::consts::{FRAC_1_SQRT_2, SQRT_2};

const LN_ROOT_TWO_PI: f64 = 0.918_938_533_204_672_8;
const ONE_OVER_ROOT_PI: f64 = 0.564_189_583_547_756_3;

/// erf near zero.
const A: [f64; 5] = [
    3.161_123_743_870_565_6,
    1.138_641_541_510_501_6e2,
    3.774_852_376_853_020_2e2,
    3.209_377_589_138_469_5e3,
    1.857_777_061_846_031_5e-1,
];
const B: [f64; 4] = [
    2.360_129_095_234_412_1e1,
    2.440_246_379_344_441_7e2,
    1.282_616_526_077_372_3e3,
    2.844_236_833_439_171e3,
];
/// Scaled erfc between 0.46875 and 4.
const C: [f64; 9] = [
    5.641_884_969_886_700_9e-1,
    8.883_149_794_388_375_9,
    6.611_919_063_714_162_95e1,
    2.986_351_381_974_001_3e2,
    8.819_522_212_417_690_9e2,
    1.712_047_612_634_070_6e3,
    2.051_078_377_826_071_5e3,
    1.230_339_354_797_997_2e3,
    2.153_115_354_744_038_5e-8,
];
const D: [f64; 8] = [
    1.574_492_611_070_983_5e1,
    1.176_939_508_913_125e2,
    5.371_811_018_620_098_6e2,
    1.621_389_574_566_690_2e3,
    3.290_799_235_733_459_6e3,
    4.362_619_090_143_247e3,
    3.439_367_674_143_721_6e3,
    1.230_339_354_803_749_4e3,
];
/// Scaled erfc above 4.
const P: [f64; 6] = [
    3.053_266_349_612_323_4e-1,
    3.603_448_999_498_044_4e-1,
    1.257_817_261_112_292_5e-1,
    1.608_378_514_874_227_7e-2,
    6.587_491_615_298_378e-4,
    1.631_538_713_730_209_8e-2,
];
const Q: [f64; 5] = [
    2.568_520_192_289_822,
    1.872_952_849_923_460_4,
    5.279_051_029_514_284e-1,
    6.051_834_131_244_132e-2,
    2.335_204_976_268_691_8e-3,
];

/// Cody's form of a rational function: the last coefficient leads the numerator, the denominator leads with 1.
fn rational(top: &[f64], bottom: &[f64], t: f64) -> f64 {
    let (Some((&lead, rest)), Some((&end_bottom, head_bottom))) =
        (top.split_last(), bottom.split_last())
    else {
        return f64::NAN;
    };
    let Some((&end_top, head_top)) = rest.split_last() else {
        return f64::NAN;
    };
    let mut numerator = lead * t;
    let mut denominator = t;
    for (a, b) in head_top.iter().zip(head_bottom) {
        numerator = (numerator + a) * t;
        denominator = (denominator + b) * t;
    }
    (numerator + end_top) / (denominator + end_bottom)
}

/// erf for `|x| <= 0.46875`.
fn erf_small(x: f64) -> f64 {
    x * rational(&A, &B, x * x)
}

/// `exp(x²) erfc(x)` for `x >= 0.46875`.
fn scaled_erfc(x: f64) -> f64 {
    if x <= 4.0 {
        return rational(&C, &D, x);
    }
    let t = 1.0 / (x * x);
    (ONE_OVER_ROOT_PI - t * rational(&P, &Q, t)) / x
}

/// `exp(-x²)` without the rounding error of the square.
fn exp_minus_square(x: f64) -> f64 {
    let rounded = (x * 16.0).trunc() / 16.0;
    (-rounded * rounded).exp() * (-(x - rounded) * (x + rounded)).exp()
}

/// Complementary error function.
fn erfc(x: f64) -> f64 {
    let y = x.abs();
    if y <= 0.46875 {
        return 1.0 - erf_small(x);
    }
    let tail = if y > 27.0 {
        0.0
    } else {
        exp_minus_square(y) * scaled_erfc(y)
    };
    if x < 0.0 { 2.0 - tail } else { tail }
}

/// Standard normal distribution function, to full relative precision in the lower tail.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erfc(-z * FRAC_1_SQRT_2)
}

/// Natural logarithm of [`normal_cdf`], also where that underflows.
pub fn normal_ln_cdf(z: f64) -> f64 {
    if z < -1.0 {
        (0.5 * scaled_erfc(-z * FRAC_1_SQRT_2)).ln() - 0.5 * z * z
    } else {
        (-normal_cdf(-z)).ln_1p()
    }
}

/// Natural logarithm of the standard normal density.
pub(super) fn ln_density(z: f64) -> f64 {
    -0.5 * z * z - LN_ROOT_TWO_PI
}

/// Standard normal quantile; `NaN` outside 0..1, infinite at its ends.
pub fn normal_quantile(p: f64) -> f64 {
    if p.is_nan() || !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p == 0.0 || p == 1.0 {
        return if p == 0.0 {
            f64::NEG_INFINITY
        } else {
            f64::INFINITY
        };
    }
    let tail = p.min(1.0 - p);
    // Good to about ten digits; two Halley steps on the logarithm of the tail make it exact.
    let mut z = -SQRT_2 * statrs::function::erf::erfc_inv(2.0 * tail);
    for _ in 0..2 {
        let ln_cdf = normal_ln_cdf(z);
        let hazard = (ln_density(z) - ln_cdf).exp();
        let step = (ln_cdf - tail.ln()) / hazard;
        // Second derivative of ln Φ over the first is -(z + hazard).
        z -= step / (1.0 + 0.5 * step * (z + hazard));
    }
    if p < 0.5 { z } else { -z }
}

/// Logarithm of the probability between `a < b`; either may be infinite.
pub(super) fn ln_interval(a: f64, b: f64) -> f64 {
    /// Below this width the density at the middle is exact to full precision (the error goes with width²/24).
    const NARROW: f64 = 1e-7;
    if a > 0.0 {
        return ln_interval(-b, -a);
    }
    if b - a < NARROW {
        return ln_density(0.5 * (a + b)) + (b - a).ln();
    }
    if b <= 0.0 {
        let upper = normal_ln_cdf(b);
        return upper + (-(normal_ln_cdf(a) - upper).exp()).ln_1p();
    }
    (-(normal_cdf(a) + normal_cdf(-b))).ln_1p()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn erfc_to_the_last_digits() {
        // Values of the functions to 18 digits (mpmath).
        for (x, expected) in [
            (0.1, 0.887_537_083_981_715_1),
            (0.5, 0.479_500_122_186_953_5),
            (1.0, 0.157_299_207_050_285_13),
            (3.0, 2.209_049_699_858_544_e-5),
            (5.0, 1.537_459_794_428_034_8e-12),
            (10.0, 2.088_487_583_762_545e-45),
            (-1.0, 1.842_700_792_949_714_9),
        ] {
            assert!(
                (erfc(x) / expected - 1.0).abs() < 1e-15,
                "{x}: {:e}",
                erfc(x)
            );
        }
    }

    #[test]
    fn logarithms_reach_far_into_the_tail() {
        // ln Φ(-40) (mpmath).
        assert!((normal_ln_cdf(-40.0) / -804.608_442_013_754 - 1.0).abs() < 1e-14);
        assert!((ln_interval(-41.0, -40.0) - normal_ln_cdf(-40.0)).abs() < 1e-12);
        assert!((ln_interval(f64::NEG_INFINITY, f64::INFINITY)).abs() < 1e-15);
        // Both formulas at the seam of the narrow interval.
        let (narrow, wide) = (
            ln_interval(0.3, 0.3 + 0.99e-7),
            ln_interval(0.3, 0.3 + 1.01e-7),
        );
        assert!((wide - narrow - (1.01_f64 / 0.99).ln()).abs() < 1e-7);
    }
}
