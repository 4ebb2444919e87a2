//! Normality of a sample: the test of Shapiro & Wilk (1965, Biometrika 52:591) in the form of Royston (1995, Appl. Stat. 44:547, AS R94),
//! and the positions of its plot.

use super::error::{StatsError, check_finite};
use super::normal::{normal_cdf, normal_quantile};

/// Sample sizes for which Royston's approximations hold.
const RANGE: (usize, usize) = (3, 5000);

/// Result of the Shapiro-Wilk test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapiroWilk {
    /// Statistic: near 1 for a normal sample.
    pub w: f64,
    /// Probability of a `w` as low as this or lower for a normal population. A high one is no proof of normality, least of all of few values.
    pub p: f64,
}

/// `c[0] + c[1] x + c[2] x² + ...`
fn polynomial(c: &[f64], x: f64) -> f64 {
    c.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// Coefficients of the larger half of the ordered values, greatest value first (the smaller half has them negative).
fn weights(n: usize) -> Vec<f64> {
    const C1: [f64; 6] = [0.0, 0.221_157, -0.147_981, -2.071_19, 4.434_685, -2.706_056];
    const C2: [f64; 6] = [
        0.0, 0.042_981, -0.293_762, -1.752_461, 5.682_633, -3.582_633,
    ];
    if n == 3 {
        return vec![std::f64::consts::FRAC_1_SQRT_2];
    }
    let m: Vec<f64> = (1..=n / 2)
        .map(|i| -normal_quantile((i as f64 - 0.375) / (n as f64 + 0.25)))
        .collect();
    let squares = 2.0 * m.iter().map(|x| x * x).sum::<f64>();
    let root = squares.sqrt();
    let u = 1.0 / (n as f64).sqrt();
    let at = |i: usize| m.get(i).copied().unwrap_or(0.0);
    let first = at(0) / root + polynomial(&C1, u);
    let (from, held, fixed) = if n > 5 {
        let second = at(1) / root + polynomial(&C2, u);
        let rest = squares - 2.0 * at(0) * at(0) - 2.0 * at(1) * at(1);
        let part = 1.0 - 2.0 * first * first - 2.0 * second * second;
        (2, vec![first, second], (rest / part).sqrt())
    } else {
        let rest = squares - 2.0 * at(0) * at(0);
        (1, vec![first], (rest / (1.0 - 2.0 * first * first)).sqrt())
    };
    held.into_iter()
        .chain(m.iter().skip(from).map(|x| x / fixed))
        .collect()
}

/// Tests whether values come from a normal population. Takes 3 to 5000 finite values that are not all alike.
pub fn shapiro_wilk(values: &[f64]) -> Result<ShapiroWilk, StatsError> {
    check_finite(values)?;
    let n = values.len();
    if n < RANGE.0 {
        return Err(StatsError::TooFew {
            what: "values",
            needed: RANGE.0,
            found: n,
        });
    }
    if n > RANGE.1 {
        return Err(StatsError::OutOfRange {
            what: "the number of values",
            range: "at most 5000",
            found: n as f64,
        });
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let range = match (sorted.first(), sorted.last()) {
        (Some(a), Some(b)) if b > a => b - a,
        _ => {
            return Err(StatsError::NoMaximum {
                why: "all values are alike, so there is no shape to test",
            });
        }
    };
    // Centred on the middle value and in units of the range, so that no square overflows.
    let middle = sorted.get(n / 2).copied().unwrap_or(0.0);
    let scaled: Vec<f64> = sorted.iter().map(|x| (x - middle) / range).collect();
    let mean = scaled.iter().sum::<f64>() / n as f64;
    let total: f64 = scaled.iter().map(|x| (x - mean).powi(2)).sum();
    let a = weights(n);
    let explained: f64 = a
        .iter()
        .zip(scaled.iter().rev().zip(&scaled))
        .map(|(a, (high, low))| a * (high - low))
        .sum();
    // The weights have length 1 but for rounding; their own length keeps w at most 1.
    let length: f64 = 2.0 * a.iter().map(|x| x * x).sum::<f64>();
    let w = (explained * explained / (total * length)).min(1.0);
    Ok(ShapiroWilk {
        w,
        p: p_of(w, n).clamp(0.0, 1.0),
    })
}

/// Royston's normalising transformations.
fn p_of(w: f64, n: usize) -> f64 {
    const SMALL_MEAN: [f64; 4] = [0.544, -0.399_78, 0.025_054, -6.714e-4];
    const SMALL_SD: [f64; 4] = [1.382_2, -0.778_57, 0.062_767, -0.002_032_2];
    const MEAN: [f64; 4] = [-1.586_1, -0.310_82, -0.083_751, 0.003_891_5];
    const SD: [f64; 3] = [-0.480_3, -0.082_676, 0.003_030_2];
    let count = n as f64;
    if n == 3 {
        // Exact: 6/π (asin √w - asin √(3/4)).
        let off = w.sqrt().asin() - 0.75_f64.sqrt().asin();
        return 6.0 / std::f64::consts::PI * off;
    }
    let lost = (1.0 - w).ln();
    let z = if n <= 11 {
        let gamma = -2.273 + 0.459 * count;
        if lost >= gamma {
            return 1e-99;
        }
        let y = -(gamma - lost).ln();
        (y - polynomial(&SMALL_MEAN, count)) / polynomial(&SMALL_SD, count).exp()
    } else {
        let x = count.ln();
        (lost - polynomial(&MEAN, x)) / polynomial(&SD, x).exp()
    };
    normal_cdf(-z)
}

/// Normal plot: each value in rising order with the standard normal quantile of its position `(i - 3/8)/(n + 1/4)` (Blom 1958). Points of a
/// normal sample lie near a straight line.
pub fn normal_plot(values: &[f64]) -> Result<Vec<(f64, f64)>, StatsError> {
    check_finite(values)?;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() as f64;
    Ok(sorted
        .into_iter()
        .enumerate()
        .map(|(i, v)| (v, normal_quantile((i as f64 + 0.625) / (n + 0.25))))
        .collect())
}
