//! The offset in one window by least squares: by how much the main channel must be moved to explain the further one there.

/// Scatter of offsets is worth looking at from so many values of a window.
pub(super) const FEWEST: usize = 16;

/// A window of the further channel on the common grid, beside the main channel.
pub(super) struct Window<'a> {
    /// Main channel on the grid.
    pub main: &'a [f64],
    /// Further channel on the grid, the values of the window.
    pub own: &'a [f64],
    /// Grid step of the main channel that lies beside the first value of the window at the offset tried first.
    pub first: f64,
    /// Highest power of the main channel the further one may follow: 1 for one quantity measured twice, 2 for two quantities.
    pub degree: i32,
    /// Values over which smoothing makes neighbours alike.
    pub alike: usize,
}

/// What a window says.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    /// Shift against the offset tried first, grid steps.
    pub shift: f64,
    /// Its standard uncertainty, grid steps.
    pub u: f64,
    /// Correlation of the further channel with what the main one makes of it.
    pub correlation: f64,
    /// The best shift lies inside what was searched.
    pub inside: bool,
}

/// The further channel explained by the main one at one shift.
struct Explained {
    residual: Vec<f64>,
    /// Change of the explanation with the shift, less what the coefficients can make up for.
    gradient: Vec<f64>,
    left: f64,
    all: f64,
}

impl Window<'_> {
    /// Looks from `-reach` to `reach` (grid steps). `None` where channels are missing or nothing moves.
    ///
    /// The sum of squares left over is a parabola about its least, whose curvature is twice the information `Σ g²` about the
    /// shift (`g`: change of the explained values with it). The variance is `Σ_jk g_j g_k C(j-k) / (Σ g²)²` with the covariance `C` of
    /// what is left over, by the estimator of Newey and West, Econometrica 55 (1987) 703. For white noise σ² this is σ²/Σ g², the
    /// variance of a delay from a correlator at high signal-to-noise ratio (Carter, Proc. IEEE 75 (1987) 236).
    pub fn find(&self, reach: f64) -> Option<Found> {
        let tries = (2.0 * reach).ceil() as i32;
        let left: Vec<f64> = (-tries..=tries)
            .map(|k| {
                self.explain(f64::from(k) / 2.0)
                    .map_or(f64::NAN, |e| e.left)
            })
            .collect();
        let (best, least) = left
            .iter()
            .copied()
            .enumerate()
            .filter(|(_, v)| v.is_finite())
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        let inside = best >= 2 && left.get(best + 2).is_some_and(|v| v.is_finite());
        let at = |k: usize| left.get(k).copied().unwrap_or(f64::NAN);
        let bend = if inside {
            at(best - 2) + at(best + 2) - 2.0 * least
        } else {
            f64::NAN
        };
        // A parabola through the best and its second neighbours, a whole grid step away.
        let within = if bend > 0.0 {
            ((at(best - 2) - at(best + 2)) / (2.0 * bend)).clamp(-1.0, 1.0)
        } else {
            0.0
        };
        let mut shift = (best as f64 - f64::from(tries)) / 2.0 + within;
        // Two steps of Gauss and Newton, which do not ask the interpolation for its own curvature.
        for _ in 0..2 {
            let now = self.explain(shift)?;
            let information: f64 = now.gradient.iter().map(|g| g * g).sum();
            let pull: f64 = now
                .gradient
                .iter()
                .zip(&now.residual)
                .map(|(g, r)| g * r)
                .sum();
            if information > 0.0 {
                shift += (pull / information).clamp(-0.5, 0.5);
            }
        }
        let end = self.explain(shift)?;
        let u = variance(&end, self.alike, self.degree).sqrt();
        let correlation = (1.0 - end.left / end.all).max(0.0).sqrt();
        (u.is_finite() && u > 0.0).then_some(Found {
            shift,
            u,
            correlation,
            inside,
        })
    }

    /// Least squares for the coefficients of the powers of the main channel at this shift (grid steps).
    fn explain(&self, shift: f64) -> Option<Explained> {
        let (mut own, mut main, mut slope) = (Vec::new(), Vec::new(), Vec::new());
        for (k, value) in self.own.iter().enumerate() {
            let at = self.first + k as f64 + shift;
            if let Some((m, s)) = cubic(self.main, at)
                && value.is_finite()
            {
                own.push(*value);
                main.push(m);
                slope.push(s);
            }
        }
        if own.len() < FEWEST {
            return None;
        }
        // One scale for any unit.
        let mean = main.iter().sum::<f64>() / main.len() as f64;
        let size = main.iter().map(|m| (m - mean).powi(2)).sum::<f64>().sqrt();
        if size <= 0.0 {
            return None;
        }
        let x: Vec<f64> = main.iter().map(|m| (m - mean) / size).collect();
        let mut columns: Vec<Vec<f64>> = Vec::new();
        let mut made: Vec<Vec<f64>> = Vec::new();
        for power in 0..=self.degree {
            let column: Vec<f64> = x.iter().map(|v| v.powi(power)).collect();
            let change: Vec<f64> = x
                .iter()
                .zip(&slope)
                .map(|(v, s)| match power {
                    0 => 0.0,
                    p => f64::from(p) * v.powi(p - 1) * s / size,
                })
                .collect();
            // Gram and Schmidt; what is done to a column is done to its change too, which keeps the change of the explanation.
            let (mut column, mut change) = (column, change);
            for (done, moved) in columns.iter().zip(&made) {
                let share = dot(&column, done);
                subtract(&mut column, done, share);
                subtract(&mut change, moved, share);
            }
            let length = dot(&column, &column).sqrt();
            if length <= 1e-9 {
                continue;
            }
            for v in column.iter_mut().chain(&mut change) {
                *v /= length;
            }
            columns.push(column);
            made.push(change);
        }
        let mut residual = own.clone();
        let mut gradient = vec![0.0; own.len()];
        let mut all = 0.0;
        for (at, (column, change)) in columns.iter().zip(&made).enumerate() {
            let share = dot(&residual, column);
            subtract(&mut residual, column, share);
            subtract(&mut gradient, change, -share);
            if at == 0 {
                all = dot(&residual, &residual);
            }
        }
        for column in &columns {
            let share = dot(&gradient, column);
            subtract(&mut gradient, column, share);
        }
        let left = dot(&residual, &residual);
        // Per value, because a shift may bring values in or out.
        let count = own.len() as f64;
        (all > 0.0).then_some(Explained {
            residual,
            gradient,
            left: left / count,
            all: all / count,
        })
    }
}

/// Variance of the shift, grid steps squared: see [`Window::find`].
fn variance(end: &Explained, alike: usize, degree: i32) -> f64 {
    let n = end.residual.len();
    let information: f64 = end.gradient.iter().map(|g| g * g).sum();
    let weighted: Vec<f64> = end
        .gradient
        .iter()
        .zip(&end.residual)
        .map(|(g, r)| g * r)
        .collect();
    let lags = (2 * alike).min(n / 4);
    let robust: f64 = (0..=lags)
        .map(|lag| {
            let sum: f64 = weighted
                .iter()
                .zip(&weighted[lag..])
                .map(|(a, b)| a * b)
                .sum();
            let bartlett = 1.0 - lag as f64 / (lags + 1) as f64;
            if lag == 0 { sum } else { 2.0 * bartlett * sum }
        })
        .sum();
    // Neighbours alike by smoothing: so many values fewer are independent, and the coefficients took theirs.
    let independent = (n as f64 / alike as f64 - f64::from(degree) - 2.0).max(1.0);
    let plain = dot(&end.residual, &end.residual) / n as f64 * alike as f64 * information;
    robust.max(plain) * (n as f64 / alike as f64 / independent) / information.powi(2)
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

fn subtract(from: &mut [f64], what: &[f64], times: f64) {
    for (value, w) in from.iter_mut().zip(what) {
        *value -= times * w;
    }
}

/// Value and slope (a grid step) between grid values, by the cubic through both neighbours with central differences as slopes.
fn cubic(values: &[f64], at: f64) -> Option<(f64, f64)> {
    let k = at.floor();
    if k < 1.0 {
        return None;
    }
    let (index, t) = (k as usize, at - k);
    let around = values.get(index - 1..index + 3)?;
    let &[a, b, c, d] = around else { return None };
    let (p, q) = ((c - a) / 2.0, (d - b) / 2.0);
    let (e, f) = (3.0 * (c - b) - 2.0 * p - q, 2.0 * (b - c) + p + q);
    let value = b + t * (p + t * (e + t * f));
    let slope = p + t * (2.0 * e + 3.0 * t * f);
    (value.is_finite() && slope.is_finite()).then_some((value, slope))
}
