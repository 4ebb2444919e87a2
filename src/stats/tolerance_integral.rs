//! Probability that limits `mean ± k sd` hold a given part of a normal population, by quadrature.

use statrs::function::gamma::checked_gamma_ur;

use super::error::StatsError;
use super::normal::{ln_density, normal_cdf, normal_quantile};
use super::quadrature::on_panels;
use super::root::root_between;

/// How many standard deviations of the integration variable are covered: what is left out is below 1e-17.
const REACH: f64 = 9.0;

/// One-sided limits. With `s = sd/σ`, confidence `= ∫ f(s) Φ(√n (k s - z)) ds`.
pub(super) struct OneSided {
    root_n: f64,
    dof: f64,
    z: f64,
}

impl OneSided {
    pub(super) fn new(n: u64, coverage: f64) -> Self {
        Self::at(n, normal_quantile(coverage))
    }

    /// For the value `z` standard deviations above the mean of the population.
    pub(super) fn at(n: u64, z: f64) -> Self {
        Self {
            root_n: (n as f64).sqrt(),
            dof: n as f64 - 1.0,
            z,
        }
    }

    /// Probability that `mean + k sd` lies above the quantile of the population.
    pub(super) fn confidence(&self, k: f64) -> f64 {
        // Φ steps from 0 to 1 at s = z/k over a width of 1/(√n k), which may be far narrower than a panel.
        let step = (self.z / k, 1.0 / (self.root_n * k.abs()));
        mean_over_sd(self.dof, &[step], |s| {
            normal_cdf(self.root_n * (k * s - self.z))
        })
    }
}

/// Logarithm of the density of `s = sd/σ`, less a constant that makes it 0 or so at its highest.
fn ln_weight(dof: f64, s: f64) -> f64 {
    let mode_squared = (dof - 1.0) / dof;
    let at = |x: f64| {
        let power = if dof > 1.0 { (dof - 1.0) * x.ln() } else { 0.0 };
        power - 0.5 * dof * x * x
    };
    let top = if dof > 1.0 {
        at(mode_squared.sqrt())
    } else {
        0.0
    };
    at(s) - top
}

/// Mean of `of(s)` over the density of `s = sd/σ`, where `of` changes within some widths of the `steps` (place, width) and hardly elsewhere.
fn mean_over_sd(dof: f64, steps: &[(f64, f64)], of: impl Fn(f64) -> f64) -> f64 {
    /// Panels over the density of `s`, and to each side of a step.
    const PANELS: usize = 24;
    const STEP_PANELS: i32 = 10;
    let spread = 1.0 / (2.0 * dof).sqrt();
    let (low, high) = (
        (1.0 - 1.3 * REACH * spread).max(0.0),
        1.0 + 1.3 * REACH * spread,
    );
    let mut breaks: Vec<f64> = (0..=PANELS)
        .map(|i| low + (high - low) * i as f64 / PANELS as f64)
        .collect();
    for &(place, width) in steps {
        breaks.extend(
            (-STEP_PANELS..=STEP_PANELS)
                .map(|j| place + f64::from(j) * width)
                .filter(|&s| s > low && s < high),
        );
    }
    breaks.sort_by(f64::total_cmp);
    let (mut all, mut part) = (0.0, 0.0);
    for (s, w) in on_panels(&breaks) {
        let weight = w * ln_weight(dof, s).exp();
        all += weight;
        part += weight * of(s);
    }
    part / all
}

/// Probability that `mean ± k sd` of `n` values lies within limits that stand `below` and `above` standard deviations from the mean of the
/// population: the mean must lie from `k sd` above the lower limit to `k sd` below the upper one, which is no room at all where `sd` is large.
pub(super) fn within_both(n: u64, (below, above): (f64, f64), k: f64) -> f64 {
    let root_n = (n as f64).sqrt();
    let width = 1.0 / (root_n * k.abs());
    // Where no room is left the integrand has a kink; a width of 0 puts one break there.
    let steps = [
        (below / k, width),
        (above / k, width),
        (0.5 * (below + above) / k, 0.0),
    ];
    mean_over_sd(n as f64 - 1.0, &steps, |s| {
        let room = normal_cdf(root_n * (above - k * s)) - normal_cdf(-root_n * (below - k * s));
        room.max(0.0)
    })
}

/// Two-sided limits. With `u = √n (mean - μ)/σ`, confidence `= ∫ φ(u) P(s >= r(u)/k) du`, where an interval of half-width `r(u)` about
/// `u/√n` holds the part wanted.
pub(super) struct TwoSided {
    dof: f64,
    /// Weight and squared half-width for each node of the mean.
    nodes: Vec<(f64, f64)>,
}

impl TwoSided {
    pub(super) fn new(n: u64, coverage: f64) -> Result<Self, StatsError> {
        let root_n = (n as f64).sqrt();
        let z = normal_quantile(0.5 + 0.5 * coverage);
        let breaks: Vec<f64> = (0..=12).map(|i| REACH * f64::from(i) / 12.0).collect();
        let mut nodes = Vec::new();
        for (u, w) in on_panels(&breaks) {
            let centre = u / root_n;
            let miss = |r: f64| normal_cdf(centre + r) - normal_cdf(centre - r) - coverage;
            // The half-width grows with the distance from the middle, by at most that distance.
            let r = root_between(miss, 0.0, z + centre + 1.0).ok_or(StatsError::NotConverged {
                what: "the half-width of a tolerance interval",
            })?;
            nodes.push((2.0 * w * ln_density(u).exp(), r * r));
        }
        Ok(Self {
            dof: n as f64 - 1.0,
            nodes,
        })
    }

    /// Probability that `mean ± k sd` holds the part wanted.
    pub(super) fn confidence(&self, k: f64) -> f64 {
        let half = 0.5 * self.dof;
        let upper_tail = |x: f64| match x {
            x if x <= 0.0 => 1.0,
            f64::INFINITY => 0.0,
            x => checked_gamma_ur(half, x).unwrap_or(f64::NAN),
        };
        self.nodes
            .iter()
            .map(|&(weight, r_squared)| weight * upper_tail(half * r_squared / (k * k)))
            .sum()
    }
}
