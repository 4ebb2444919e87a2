//! Weighted least squares of a Fourier series: r(θ) = c₀ + Σ (aₖ cos kθ + bₖ sin kθ).

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use std::f64::consts::TAU;
use std::sync::LazyLock;

/// A direction: sine and cosine of its angle.
pub(super) type Direction = (f64, f64);

/// Steps around a curve. Of the integrals over θ: the trapezium rule on a periodic curve of order 12 is exact to rounding long before.
/// Of the polygon and of the extreme diameters: their finest part, a third of a degree.
pub(super) const STEPS: usize = 1024;

/// The directions of those steps.
pub(super) static AROUND: LazyLock<Vec<Direction>> = LazyLock::new(|| {
    (0..STEPS)
        .map(|step| (TAU * step as f64 / STEPS as f64).sin_cos())
        .collect()
});

/// A point in polar coordinates.
#[derive(Debug, Clone, Copy)]
pub(super) struct Polar {
    pub direction: Direction,
    pub radius: f64,
}

impl Polar {
    /// A point about a centre, which has no direction itself.
    pub(super) fn about((cx, cy): (f64, f64), (x, y): (f64, f64)) -> Self {
        let (x, y) = (x - cx, y - cy);
        let radius = super::length(x, y);
        let direction = if radius > 0.0 {
            (y / radius, x / radius)
        } else {
            (0.0, 1.0)
        };
        Self { direction, radius }
    }
}

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
    pub(super) fn basis(&self, (sin1, cos1): Direction, mut f: impl FnMut(usize, f64, f64)) {
        f(0, 1.0, 0.0);
        let (mut sin, mut cos) = (sin1, cos1);
        for k in 1..=self.order() {
            let n = k as f64;
            f(2 * k - 1, cos, -n * sin);
            f(2 * k, sin, n * cos);
            (sin, cos) = (sin * cos1 + cos * sin1, cos * cos1 - sin * sin1);
        }
    }

    /// Value in a direction.
    pub(super) fn value(&self, direction: Direction) -> f64 {
        value(self.coefficients.as_slice(), direction)
    }

    /// Value and derivative in a direction.
    pub(super) fn at(&self, direction: Direction) -> (f64, f64) {
        let (mut value, mut slope) = (0.0, 0.0);
        self.basis(direction, |i, basis, derivative| {
            let c = self.coefficients.get(i).copied().unwrap_or(0.0);
            value += c * basis;
            slope += c * derivative;
        });
        (value, slope)
    }

    /// Lowest value over evenly spaced angles.
    pub(super) fn lowest(&self) -> f64 {
        let values = AROUND.iter().map(|direction| self.value(*direction));
        values.fold(f64::INFINITY, f64::min)
    }

    /// Centroid of the area inside the curve, relative to the centre of the angles.
    pub(super) fn centroid(&self) -> (f64, f64) {
        let (mut area, mut x, mut y) = (0.0, 0.0, 0.0);
        for &(sin, cos) in AROUND.iter() {
            let r = self.value((sin, cos));
            area += r * r / 2.0;
            x += r.powi(3) / 3.0 * cos;
            y += r.powi(3) / 3.0 * sin;
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

/// Points summed side by side.
const LANES: usize = 4;

/// Sums of one order.
#[derive(Debug, Clone, Copy, Default)]
struct Lanes {
    cos: [f64; LANES],
    sin: [f64; LANES],
    radius_cos: [f64; LANES],
    radius_sin: [f64; LANES],
}

impl Harmonics {
    pub(super) fn sum(polar: &[Polar], weights: &[f64], order: usize) -> Self {
        let total: f64 = weights.iter().sum();
        let mean = polar
            .iter()
            .zip(weights)
            .map(|(point, w)| w * point.radius)
            .sum::<f64>()
            / total;
        // Points are taken several at a time, each into sums of its own: one after the other they would wait for each other.
        let mut sums = vec![Lanes::default(); 2 * order + 1];
        let mut power = [0.0; LANES];
        for (points, weights) in polar.chunks(LANES).zip(weights.chunks(LANES)) {
            // A point without weight fills up the last ones.
            let of = |lane: usize, pick: fn(&Polar) -> f64| points.get(lane).map_or(0.0, pick);
            let weight: [f64; LANES] =
                std::array::from_fn(|lane| weights.get(lane).copied().unwrap_or(0.0));
            let sin1: [f64; LANES] = std::array::from_fn(|lane| of(lane, |p| p.direction.0));
            let cos1: [f64; LANES] = std::array::from_fn(|lane| of(lane, |p| p.direction.1));
            let off: [f64; LANES] =
                std::array::from_fn(|lane| weight[lane] * (of(lane, |p| p.radius) - mean));
            for lane in 0..LANES {
                power[lane] += off[lane] * (of(lane, |p| p.radius) - mean);
            }
            let (mut sin, mut cos) = ([0.0; LANES], [1.0; LANES]);
            for sums in &mut sums {
                for lane in 0..LANES {
                    let (s, c) = (sin[lane], cos[lane]);
                    sums.cos[lane] += weight[lane] * c;
                    sums.sin[lane] += weight[lane] * s;
                    sums.radius_cos[lane] += off[lane] * c;
                    sums.radius_sin[lane] += off[lane] * s;
                    sin[lane] = s * cos1[lane] + c * sin1[lane];
                    cos[lane] = c * cos1[lane] - s * sin1[lane];
                }
            }
        }
        let total = |lanes: &[f64; LANES]| lanes.iter().sum::<f64>();
        let mut radius = DVector::zeros(2 * order + 1);
        for (k, sums) in sums.iter().take(order + 1).enumerate() {
            if k > 0 {
                radius[2 * k - 1] = total(&sums.radius_cos);
                radius[2 * k] = total(&sums.radius_sin);
            } else {
                radius[0] = total(&sums.radius_cos);
            }
        }
        Self {
            cos: sums.iter().map(|sums| total(&sums.cos)).collect(),
            sin: sums.iter().map(|sums| total(&sums.sin)).collect(),
            radius,
            power: total(&power),
            mean,
            count: polar.len(),
        }
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

    /// The series of this order. `None` where the points do not determine it.
    pub(super) fn solve(&self, order: usize) -> Option<Solved> {
        self.solved(order, self.matrix(order).cholesky()?)
    }

    /// The series of this order, whose matrix was factored.
    fn solved(&self, order: usize, factor: Cholesky<f64, Dyn>) -> Option<Solved> {
        let right = self.radius.rows(0, 2 * order + 1).into_owned();
        let mut coefficients = factor.solve(&right);
        let sum = (self.power - coefficients.dot(&right)).max(0.0);
        if let Some(first) = coefficients.get_mut(0) {
            *first += self.mean;
        }
        let solved = Solved {
            coefficients,
            factor,
            sum,
        };
        sum.is_finite().then_some(solved)
    }

    /// The series of the order with the lowest Bayesian information criterion n ln(S/n) + p ln n; points that share errors count for `worth`
    /// of a point each.
    pub(super) fn best(&self, most: usize, worth: f64) -> Option<Solved> {
        // The matrix of a lower order is the corner of that of a higher one, and so are their factors: one serves all.
        let factor = (1..=most)
            .rev()
            .find_map(|order| self.matrix(order).cholesky())?;
        let lower = factor.l();
        let size = lower.nrows();
        // S of an order is what is left of the power after the first p of these are taken out.
        let parts = lower.solve_lower_triangular(&self.radius.rows(0, size).into_owned())?;
        let n = self.count as f64;
        // Below this the sum is rounding, and a higher order explains nothing more.
        let floor = 1e-14 * self.power.max(f64::MIN_POSITIVE);
        let score = |order: usize| {
            let p = 2 * order + 1;
            let sum = self.power - parts.rows(0, p).norm_squared();
            worth * n * (sum.max(floor) / n).ln() + p as f64 * (worth * n).ln()
        };
        let order = (1..=size / 2).min_by(|a, b| score(*a).total_cmp(&score(*b)))?;
        let p = 2 * order + 1;
        let corner = lower.view((0, 0), (p, p)).into_owned();
        self.solved(order, Cholesky::pack_dirty(corner))
    }
}

/// A solution of the normal equations.
pub(super) struct Solved {
    /// As those of a [`Series`].
    pub coefficients: DVector<f64>,
    factor: Cholesky<f64, Dyn>,
    /// Sum of the squared residuals.
    pub sum: f64,
}

impl Solved {
    /// The series with its covariance for residuals of variance 1.
    pub(super) fn series(self) -> Series {
        Series {
            covariance: self.factor.inverse(),
            coefficients: self.coefficients,
        }
    }
}

/// The value of a series in a direction, by Clenshaw's recurrence: sums of cosines and sines without any sine or cosine of a multiple.
pub(super) fn value(coefficients: &[f64], (sin, cos): Direction) -> f64 {
    let (mut a1, mut a2, mut b1, mut b2) = (0.0, 0.0, 0.0, 0.0);
    let twice = 2.0 * cos;
    for pair in coefficients.get(1..).unwrap_or_default().rchunks_exact(2) {
        (a1, a2) = (pair[0] + twice * a1 - a2, a1);
        (b1, b2) = (pair[1] + twice * b1 - b2, b1);
    }
    coefficients.first().copied().unwrap_or(0.0) + a1 * cos - a2 + b1 * sin
}
