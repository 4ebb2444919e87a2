//! Weighted least squares of a Fourier series: r(θ) = c₀ + Σ (aₖ cos kθ + bₖ sin kθ).

use nalgebra::{DMatrix, DVector};
use std::f64::consts::TAU;

/// Median; NaN of nothing.
pub(super) fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    let (middle, odd) = (sorted.len() / 2, sorted.len() % 2 == 1);
    if sorted.is_empty() {
        return f64::NAN;
    }
    let (below, value, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
    if odd {
        return *value;
    }
    let other = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    f64::midpoint(other, *value)
}

/// A fitted series: coefficients c₀, a₁, b₁, a₂, b₂, ... and their covariance.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Series {
    coefficients: DVector<f64>,
    covariance: DMatrix<f64>,
}

impl Series {
    pub(super) fn coefficients(&self) -> &DVector<f64> {
        &self.coefficients
    }

    pub(super) fn order(&self) -> usize {
        self.coefficients.len() / 2
    }

    pub(super) fn mean_radius(&self) -> f64 {
        self.coefficients.get(0).copied().unwrap_or(f64::NAN)
    }

    pub(super) fn amplitude(&self, k: usize) -> f64 {
        match (k.checked_mul(2), k) {
            (Some(at), 1..) => {
                let a = self.coefficients.get(at - 1).copied().unwrap_or(0.0);
                let b = self.coefficients.get(at).copied().unwrap_or(0.0);
                a.hypot(b)
            }
            _ => 0.0,
        }
    }

    /// Calls `f(position, basis value, basis derivative)` for every coefficient.
    pub(super) fn basis(&self, angle: f64, mut f: impl FnMut(usize, f64, f64)) {
        f(0, 1.0, 0.0);
        let (sin1, cos1) = angle.sin_cos();
        let (mut sin, mut cos) = (sin1, cos1);
        for k in 1..=self.order() {
            let n = k as f64;
            f(2 * k - 1, cos, -n * sin);
            f(2 * k, sin, n * cos);
            (sin, cos) = (sin * cos1 + cos * sin1, cos * cos1 - sin * sin1);
        }
    }

    /// Value and derivative at an angle.
    pub(super) fn at(&self, angle: f64) -> (f64, f64) {
        let (mut value, mut slope) = (0.0, 0.0);
        self.basis(angle, |i, basis, derivative| {
            let c = self.coefficients.get(i).copied().unwrap_or(0.0);
            value += c * basis;
            slope += c * derivative;
        });
        (value, slope)
    }

    /// Lowest value over evenly spaced angles.
    pub(super) fn lowest(&self, steps: usize) -> f64 {
        (0..steps)
            .map(|i| self.at(TAU * i as f64 / steps as f64).0)
            .fold(f64::INFINITY, f64::min)
    }

    /// Centroid of the area inside the curve, relative to the centre of the angles.
    pub(super) fn centroid(&self, steps: usize) -> (f64, f64) {
        let (mut area, mut x, mut y) = (0.0, 0.0, 0.0);
        for i in 0..steps {
            let angle = TAU * i as f64 / steps as f64;
            let r = self.at(angle).0;
            area += r * r / 2.0;
            x += r.powi(3) / 3.0 * angle.cos();
            y += r.powi(3) / 3.0 * angle.sin();
        }
        (x / area, y / area)
    }

    /// Standard uncertainty of something that changes with the coefficients by `gradient`.
    pub(super) fn spread(&self, gradient: &DVector<f64>) -> f64 {
        gradient.dot(&(&self.covariance * gradient)).max(0.0).sqrt()
    }

    pub(super) fn scale_covariance(&mut self, variance: f64) {
        self.covariance *= variance;
    }
}

/// Sums over the points that the normal equations are made of. Products of sines and cosines are sines and cosines of sums and
/// differences, so 4 K + 1 sums serve every order up to K.
pub(super) struct Harmonics {
    cos: Vec<f64>,
    sin: Vec<f64>,
    radius: DVector<f64>,
    /// Σ w (r − mean)².
    power: f64,
    mean: f64,
    count: usize,
}

impl Harmonics {
    pub(super) fn sum(polar: &[(f64, f64)], weights: &[f64], order: usize) -> Self {
        let total: f64 = weights.iter().sum();
        let mean = polar
            .iter()
            .zip(weights)
            .map(|((_, r), w)| w * r)
            .sum::<f64>()
            / total;
        let mut sums = Self {
            cos: vec![0.0; 2 * order + 1],
            sin: vec![0.0; 2 * order + 1],
            radius: DVector::zeros(2 * order + 1),
            power: 0.0,
            mean,
            count: polar.len(),
        };
        for ((angle, r), w) in polar.iter().zip(weights) {
            let (sin1, cos1) = angle.sin_cos();
            let (mut sin, mut cos) = (0.0, 1.0);
            let r = r - mean;
            sums.power += w * r * r;
            for (k, (c, s)) in sums.cos.iter_mut().zip(&mut sums.sin).enumerate() {
                *c += w * cos;
                *s += w * sin;
                if k <= order {
                    if k > 0 {
                        sums.radius[2 * k - 1] += w * r * cos;
                        sums.radius[2 * k] += w * r * sin;
                    } else {
                        sums.radius[0] += w * r;
                    }
                }
                (sin, cos) = (sin * cos1 + cos * sin1, cos * cos1 - sin * sin1);
            }
        }
        sums
    }

    fn matrix(&self, order: usize) -> DMatrix<f64> {
        let cos = |k: usize| self.cos.get(k).copied().unwrap_or(0.0);
        let sin = |k: usize| self.sin.get(k).copied().unwrap_or(0.0);
        let entry = |i: usize, j: usize| {
            // Position 2k−1 is cos kθ, 2k is sin kθ, 0 is cos 0θ.
            let (p, q) = (i.div_ceil(2), j.div_ceil(2));
            let (plus, minus) = (p + q, p.abs_diff(q));
            let is_sine = |i: usize| i > 0 && i.is_multiple_of(2);
            let sign = if p >= q { 1.0 } else { -1.0 };
            match (is_sine(i), is_sine(j)) {
                (false, false) => f64::midpoint(cos(minus), cos(plus)),
                (true, true) => (cos(minus) - cos(plus)) / 2.0,
                (true, false) => f64::midpoint(sin(plus), sign * sin(minus)),
                (false, true) => (sin(plus) - sign * sin(minus)) / 2.0,
            }
        };
        DMatrix::from_fn(2 * order + 1, 2 * order + 1, entry)
    }

    /// The series of this order with the sum of squared residuals; the covariance is for residuals of variance 1. `None` where the
    /// points do not determine it.
    pub(super) fn solve(&self, order: usize) -> Option<(Series, f64)> {
        let factor = self.matrix(order).cholesky()?;
        let right = self.radius.rows(0, 2 * order + 1).into_owned();
        let mut coefficients = factor.solve(&right);
        let sum = (self.power - coefficients.dot(&right)).max(0.0);
        if let Some(first) = coefficients.get_mut(0) {
            *first += self.mean;
        }
        let series = Series {
            coefficients,
            covariance: factor.inverse(),
        };
        sum.is_finite().then_some((series, sum))
    }

    /// The series of the order with the lowest Bayesian information criterion n ln(S/n) + p ln n.
    pub(super) fn best(&self, most: usize) -> Option<(Series, f64)> {
        let n = self.count as f64;
        // Below this the sum is rounding, and a higher order explains nothing more.
        let floor = 1e-14 * self.power.max(f64::MIN_POSITIVE);
        let mut best: Option<(f64, Series, f64)> = None;
        for order in 1..=most {
            let Some((series, sum)) = self.solve(order) else {
                break;
            };
            let score = n * (sum.max(floor) / n).ln() + (2 * order + 1) as f64 * n.ln();
            if best.as_ref().is_none_or(|(lowest, _, _)| score < *lowest) {
                best = Some((score, series, sum));
            }
        }
        best.map(|(_, series, sum)| (series, sum))
    }
}
