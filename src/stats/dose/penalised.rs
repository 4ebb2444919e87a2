//! Fit of a dose-response curve by the likelihood times the square root of the information (Jeffreys' prior as a penalty).
//!
//! For the logistic curve this is the bias-reduced fit of Firth (1993, Biometrika 80:27); for the probit it is not exactly that, but as with
//! the logistic curve its maximum is finite whatever the outcomes (Kosmidis & Firth 2021, Biometrika 108:71). Intervals by the ratio of
//! penalised likelihoods (Heinze & Schemper 2002, Stat. Med. 21:2409).

use super::super::error::StatsError;
use super::super::levels::Level;
use super::super::location_scale::{Family, outward};
use super::super::root::root_between;

const ROUNDS: usize = 1000;
const NOT_CONVERGED: StatsError = StatsError::NotConverged {
    what: "the bias-reduced dose-response fit",
};

/// Penalised log-likelihood with its slopes and the expected information in (γ, δ), where `z = δ y - γ`.
#[derive(Clone, Copy, Default)]
struct Local {
    value: f64,
    ln_likelihood: f64,
    g: f64,
    d: f64,
    gg: f64,
    gd: f64,
    dd: f64,
}

/// A fitted curve.
#[derive(Debug, Clone)]
pub(super) struct Penalised {
    family: &'static dyn Family,
    pub mu: f64,
    pub sigma: f64,
    /// Log-likelihood without the penalty.
    pub ln_likelihood: f64,
    /// Variances and covariance of (γ, δ) on the scale of the levels.
    variance: [f64; 3],
    levels: Vec<(f64, f64, f64)>,
    centre: f64,
    scale: f64,
    top: f64,
    gamma: f64,
    delta: f64,
}

fn local(family: &dyn Family, levels: &[(f64, f64, f64)], gamma: f64, delta: f64) -> Local {
    let mut sum = Local::default();
    // Weight and its logarithmic slope at each level.
    let mut rows = Vec::with_capacity(levels.len());
    for &(y, failures, passes) in levels {
        let z = delta * y - gamma;
        let (ln_f, ln_below, ln_above) = (
            family.ln_density(z),
            family.ln_interval(f64::NEG_INFINITY, z),
            family.ln_interval(z, f64::INFINITY),
        );
        let (up, down) = ((ln_f - ln_below).exp(), (ln_f - ln_above).exp());
        let weight = (failures + passes) * (2.0 * ln_f - ln_below - ln_above).exp();
        sum.ln_likelihood += failures * ln_below + passes * ln_above;
        let slope = failures * up - passes * down;
        sum.g -= slope;
        sum.d += slope * y;
        sum.gg += weight;
        sum.gd -= weight * y;
        sum.dd += weight * y * y;
        rows.push((y, weight, 2.0 * family.score(z) - up + down));
    }
    let det = sum.gg * sum.dd - sum.gd * sum.gd;
    for (y, weight, turn) in rows {
        // Slope of half the logarithm of the determinant.
        let lever = (sum.dd + 2.0 * sum.gd * y + sum.gg * y * y) / det;
        let half = 0.5 * weight * turn * lever;
        sum.g -= half;
        sum.d += half * y;
    }
    sum.value = sum.ln_likelihood + 0.5 * det.ln();
    sum
}

pub(super) fn fit(family: &'static dyn Family, levels: &[Level]) -> Result<Penalised, StatsError> {
    let n: f64 = levels.iter().map(|l| l.n as f64).sum();
    let centre = levels.iter().map(|l| l.n as f64 * l.level).sum::<f64>() / n;
    let variance = levels
        .iter()
        .map(|l| l.n as f64 * (l.level - centre).powi(2))
        .sum::<f64>()
        / n;
    let scale = variance.sqrt();
    if !scale.is_normal() {
        return Err(StatsError::NoMaximum {
            why: "all units were tested at one level",
        });
    }
    let standardised: Vec<(f64, f64, f64)> = levels
        .iter()
        .filter(|l| l.n > 0)
        .map(|l| {
            (
                (l.level - centre) / scale,
                l.failures as f64,
                (l.n - l.failures) as f64,
            )
        })
        .collect();
    let (gamma, delta, at) = climb(family, &standardised)?;
    if delta <= 0.0 {
        return Err(StatsError::NoMaximum {
            why: "failures do not rise with the level",
        });
    }
    let det = at.gg * at.dd - at.gd * at.gd;
    Ok(Penalised {
        family,
        mu: centre + scale * gamma / delta,
        sigma: scale / delta,
        ln_likelihood: at.ln_likelihood,
        variance: [at.dd / det, -at.gd / det, at.gg / det],
        levels: standardised,
        centre,
        scale,
        top: at.value,
        gamma,
        delta,
    })
}

/// Scoring steps, halved where they overshoot.
fn climb(family: &dyn Family, levels: &[(f64, f64, f64)]) -> Result<(f64, f64, Local), StatsError> {
    let (mut gamma, mut delta) = (0.0, 0.5);
    let mut at = local(family, levels, gamma, delta);
    for _ in 0..ROUNDS {
        let det = at.gg * at.dd - at.gd * at.gd;
        if !(at.value.is_finite() && det > 0.0) {
            break;
        }
        let step_g = (at.dd * at.g - at.gd * at.d) / det;
        let step_d = (at.gg * at.d - at.gd * at.g) / det;
        let decrement = at.g * step_g + at.d * step_d;
        if decrement <= 1e-22 {
            return Ok((gamma, delta, at));
        }
        let mut part = 1.0;
        let next = loop {
            let (g, d) = (gamma + part * step_g, delta + part * step_d);
            let there = local(family, levels, g, d);
            // Near the top the gain drowns in rounding; a full step is then right.
            if there.value >= at.value || (decrement < 1e-10 && there.value.is_finite()) {
                break Some((g, d, there));
            }
            part *= 0.5;
            if part < 1e-12 {
                break None;
            }
        };
        (gamma, delta, at) = next.ok_or(NOT_CONVERGED)?;
    }
    // Rounding may keep the decrement just above the mark.
    if at.g.hypot(at.d) <= 1e-8 {
        Ok((gamma, delta, at))
    } else {
        Err(NOT_CONVERGED)
    }
}

impl Penalised {
    pub(super) fn quantile(&self, w: f64) -> f64 {
        self.mu + self.sigma * w
    }

    /// Standard uncertainty of `(γ + w)/δ`, by the delta method.
    pub(super) fn u_quantile(&self, w: f64) -> f64 {
        let (by_g, by_d) = (
            1.0 / self.delta,
            -(self.gamma + w) / (self.delta * self.delta),
        );
        let [v_gg, v_gd, v_dd] = self.variance;
        self.scale * (by_g * by_g * v_gg + 2.0 * by_g * by_d * v_gd + by_d * by_d * v_dd).sqrt()
    }

    /// Highest penalised log-likelihood with the quantile held at `y`: the root of its slope in `ln δ`, or its value for a flat curve
    /// where no rising one is better.
    fn profile(&self, y: f64, w: f64) -> Option<f64> {
        const FLAT: f64 = -12.0;
        const STEEP: f64 = 40.0;
        let y = (y - self.centre) / self.scale;
        let at = |t: f64| {
            let delta = self.delta * t.exp();
            local(self.family, &self.levels, delta * y - w, delta)
        };
        let slope = |t: f64| {
            let there = at(t);
            there.d + y * there.g
        };
        let step = if slope(0.0) > 0.0 { 0.5 } else { -0.5 };
        let mut outer = 0.0;
        loop {
            let next = outer + step;
            let there = slope(next);
            if there.is_nan() || next > STEEP {
                return None;
            }
            if next < FLAT {
                return Some(at(next).value);
            }
            if (there > 0.0) != (step > 0.0) {
                let t = root_between(slope, outer.min(next), outer.max(next))?;
                return Some(at(t).value);
            }
            outer = next;
        }
    }

    /// As `LocationScale::profile_limit`.
    pub(super) fn profile_limit(&self, w: f64, side: f64, fall: f64) -> Option<f64> {
        let miss = |y: f64| {
            self.profile(y, w)
                .map_or(f64::NAN, |l| 2.0 * (self.top - l) - fall)
        };
        let reach = self.u_quantile(w) * fall.sqrt();
        outward(self.quantile(w), side, reach, miss)
    }
}
