//! Maximum likelihood for families `F((y - μ)/σ)` whose density is log-concave: normal, and smallest extreme value (the logarithm of a
//! Weibull variable).
//!
//! In the parameters `γ = μ/σ`, `δ = 1/σ` the standardised value `z = δ y - γ` is linear and the log-likelihood concave, censored and
//! interval data included (Burridge 1981, J. R. Stat. Soc. B 43:41), so that a damped Newton iteration finds the one maximum there is.

mod common_spread;
mod profile;

pub(super) use common_spread::fit_common_spread;
pub(super) use profile::{outward, summit};

use super::error::StatsError;

/// A standardised distribution with a log-concave density.
pub(super) trait Family: std::fmt::Debug + Sync {
    /// Logarithm of the density.
    fn ln_density(&self, z: f64) -> f64;
    /// Derivative of the logarithm of the density.
    fn score(&self, z: f64) -> f64;
    /// Second derivative of the logarithm of the density.
    fn score_slope(&self, z: f64) -> f64;
    /// Logarithm of the probability between `a < b`, either of which may be infinite.
    fn ln_interval(&self, a: f64, b: f64) -> f64;
    /// The value below which the part `p` lies; infinite at the ends of 0..1.
    fn quantile(&self, p: f64) -> f64;
}

/// What is known of one value (or of `count` alike).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Datum {
    lower: f64,
    upper: f64,
    count: f64,
}

impl Datum {
    pub(super) fn between(lower: f64, upper: f64) -> Self {
        Self {
            lower,
            upper,
            count: 1.0,
        }
    }

    pub(super) fn times(self, count: f64) -> Self {
        Self { count, ..self }
    }

    fn is_exact(&self) -> bool {
        self.lower == self.upper
    }

    fn scaled(&self, centre: f64, scale: f64) -> Self {
        Self {
            lower: (self.lower - centre) / scale,
            upper: (self.upper - centre) / scale,
            count: self.count,
        }
    }
}

/// Log-likelihood with its derivatives with respect to (γ, δ).
#[derive(Clone, Copy, Default)]
struct Local {
    value: f64,
    g: f64,
    d: f64,
    gg: f64,
    gd: f64,
    dd: f64,
}

fn local(family: &dyn Family, data: &[Datum], gamma: f64, delta: f64) -> Local {
    let mut sum = Local::default();
    for datum in data {
        let one = if datum.is_exact() {
            exact(family, datum.lower, gamma, delta)
        } else {
            interval(family, datum, gamma, delta)
        };
        let n = datum.count;
        sum.value += n * one.value;
        sum.g += n * one.g;
        sum.d += n * one.d;
        sum.gg += n * one.gg;
        sum.gd += n * one.gd;
        sum.dd += n * one.dd;
    }
    sum
}

fn exact(family: &dyn Family, y: f64, gamma: f64, delta: f64) -> Local {
    let z = delta * y - gamma;
    let (s, s2) = (family.score(z), family.score_slope(z));
    Local {
        value: family.ln_density(z) + delta.ln(),
        g: -s,
        d: y * s + 1.0 / delta,
        gg: s2,
        gd: -y * s2,
        dd: y * y * s2 - 1.0 / (delta * delta),
    }
}

fn interval(family: &dyn Family, datum: &Datum, gamma: f64, delta: f64) -> Local {
    let at = |y: f64| if y.is_finite() { delta * y - gamma } else { y };
    let (a, b) = (at(datum.lower), at(datum.upper));
    let ln_p = family.ln_interval(a, b);
    // First and second derivatives of ln P with respect to one end; an infinite end does not move.
    let end = |z: f64, sign: f64| {
        if z.is_finite() {
            let ratio = (family.ln_density(z) - ln_p).exp();
            (sign * ratio, sign * family.score(z) * ratio - ratio * ratio)
        } else {
            (0.0, 0.0)
        }
    };
    let ((la, laa), (lb, lbb)) = (end(a, -1.0), end(b, 1.0));
    let lab = -la * lb;
    let finite = |y: f64| if y.is_finite() { y } else { 0.0 };
    let (ya, yb) = (finite(datum.lower), finite(datum.upper));
    Local {
        value: ln_p,
        g: -(la + lb),
        d: ya * la + yb * lb,
        gg: laa + 2.0 * lab + lbb,
        gd: -(ya * laa + (ya + yb) * lab + yb * lbb),
        dd: ya * ya * laa + 2.0 * ya * yb * lab + yb * yb * lbb,
    }
}

/// A fitted member of the family.
#[derive(Debug, Clone)]
pub(super) struct LocationScale {
    family: &'static dyn Family,
    pub mu: f64,
    pub sigma: f64,
    /// Log-likelihood on the scale of `y`.
    pub ln_likelihood: f64,
    /// Variances and covariance of (μ, ln σ) from the observed information.
    pub var_mu: f64,
    pub var_ln_sigma: f64,
    pub covariance: f64,
    /// Data standardised by `centre` and `scale`, kept for likelihood profiles.
    data: Vec<Datum>,
    centre: f64,
    scale: f64,
    /// Log-likelihood of the standardised data.
    top: f64,
    delta: f64,
}

const ROUNDS: usize = 200;
/// Newton decrement (twice the likelihood still to be gained) at which the maximum counts as reached.
const RESTED: f64 = 1e-20;
/// A `δ` (in units of the data's own spread) outside this range means that the spread shrinks to nothing or grows without bound.
const DELTA_RANGE: (f64, f64) = (1e-6, 1e8);

const NO_SPREAD: &str =
    "all observations are compatible with one and the same value, so the spread shrinks to nothing";
const NO_LIMIT: &str = "the spread grows without bound";

/// Fits a member of the family.
pub(super) fn fit(
    family: &'static dyn Family,
    data: &[Datum],
) -> Result<LocationScale, StatsError> {
    let highest_lower = data
        .iter()
        .map(|d| d.lower)
        .fold(f64::NEG_INFINITY, f64::max);
    let lowest_upper = data.iter().map(|d| d.upper).fold(f64::INFINITY, f64::min);
    if highest_lower <= lowest_upper {
        return Err(StatsError::NoMaximum { why: NO_SPREAD });
    }
    let (centre, scale) = spread(data);
    let standardised: Vec<Datum> = data.iter().map(|d| d.scaled(centre, scale)).collect();
    let (gamma, delta, at) = climb(family, &standardised)?;
    // Inverse of the observed information, then to (μ, ln σ): μ = γ/δ, ln σ = -ln δ.
    let det = at.gg * at.dd - at.gd * at.gd;
    let (v_gg, v_dd, v_gd) = (-at.dd / det, -at.gg / det, at.gd / det);
    let (m_g, m_d, t_d) = (1.0 / delta, -gamma / (delta * delta), -1.0 / delta);
    let var_mu = m_g * m_g * v_gg + 2.0 * m_g * m_d * v_gd + m_d * m_d * v_dd;
    let exact: f64 = data.iter().filter(|d| d.is_exact()).map(|d| d.count).sum();
    Ok(LocationScale {
        family,
        mu: centre + scale * gamma / delta,
        sigma: scale / delta,
        ln_likelihood: at.value - exact * scale.ln(),
        var_mu: scale * scale * var_mu,
        var_ln_sigma: t_d * t_d * v_dd,
        covariance: scale * (m_g * t_d * v_gd + m_d * t_d * v_dd),
        data: standardised,
        centre,
        scale,
        top: at.value,
        delta,
    })
}

/// Mean and standard deviation of all finite ends: they only set the scale of the iteration.
fn spread(data: &[Datum]) -> (f64, f64) {
    let ends: Vec<f64> = data
        .iter()
        .flat_map(|d| [d.lower, d.upper])
        .filter(|y| y.is_finite())
        .collect();
    let n = (ends.len() as f64).max(1.0);
    let mean = ends.iter().map(|y| y / n).sum::<f64>();
    let variance = ends.iter().map(|y| (y - mean).powi(2) / n).sum::<f64>();
    let scale = variance.sqrt();
    (mean, if scale.is_normal() { scale } else { 1.0 })
}

/// Damped Newton iteration from `γ = 0, δ = 1`.
fn climb(family: &dyn Family, data: &[Datum]) -> Result<(f64, f64, Local), StatsError> {
    let (mut gamma, mut delta) = (0.0_f64, 1.0_f64);
    let mut at = local(family, data, gamma, delta);
    let failed = StatsError::NotConverged {
        what: "the maximum-likelihood fit",
    };
    if !at.value.is_finite() {
        return Err(failed);
    }
    for _ in 0..ROUNDS {
        let det = at.gg * at.dd - at.gd * at.gd;
        if !(det > 0.0 && at.gg < 0.0) {
            return Err(StatsError::NoMaximum { why: NO_LIMIT });
        }
        let step_g = (-at.dd * at.g + at.gd * at.d) / det;
        let step_d = (at.gd * at.g - at.gg * at.d) / det;
        let decrement = at.g * step_g + at.d * step_d;
        let mut part = 1.0;
        let next = loop {
            let (g, d) = (gamma + part * step_g, delta + part * step_d);
            if d > 0.0 {
                let there = local(family, data, g, d);
                // Near the top the gain drowns in rounding; a full step is then right.
                if there.value >= at.value || (decrement < 1e-10 && there.value.is_finite()) {
                    break Some((g, d, there));
                }
            }
            part *= 0.5;
            if part < 1e-12 {
                break None;
            }
        };
        let Some((g, d, there)) = next else {
            return Err(failed);
        };
        (gamma, delta, at) = (g, d, there);
        if delta < DELTA_RANGE.0 {
            return Err(StatsError::NoMaximum { why: NO_LIMIT });
        }
        if delta > DELTA_RANGE.1 {
            return Err(StatsError::NoMaximum { why: NO_SPREAD });
        }
        if decrement <= RESTED {
            return Ok((gamma, delta, at));
        }
    }
    // Rounding may keep the decrement of a large sample just above the mark.
    if at.g.hypot(at.d) <= 1e-7 * data.len() as f64 {
        Ok((gamma, delta, at))
    } else {
        Err(failed)
    }
}

impl LocationScale {
    /// The quantile `y = μ + σ w`, `w` being that of the standardised distribution.
    pub(super) fn quantile(&self, w: f64) -> f64 {
        self.mu + self.sigma * w
    }

    /// Standard uncertainty of that quantile.
    pub(super) fn u_quantile(&self, w: f64) -> f64 {
        let slope = self.sigma * w;
        (self.var_mu + 2.0 * slope * self.covariance + slope * slope * self.var_ln_sigma).sqrt()
    }
}
