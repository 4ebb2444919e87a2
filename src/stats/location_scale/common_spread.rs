//! Groups of one spread but of locations of their own.

use super::super::error::StatsError;
use super::super::root::root_between;
use super::{DELTA_RANGE, Datum, Family, NO_LIMIT, NO_SPREAD, local, spread, summit};

/// Groups fitted with one spread.
#[derive(Debug, Clone, PartialEq)]
pub(in super::super) struct CommonSpread {
    pub mu: Vec<f64>,
    pub sigma: f64,
    /// Log-likelihood of all groups on the scale of `y`.
    pub ln_likelihood: f64,
}

/// Fits `μ` for each group and one `σ` for all. The log-likelihood is concave in all `γ` and `δ` together, so that its maximum over the
/// `γ` is concave in `δ`: the one root of its slope is sought.
pub(in super::super) fn fit_common_spread(
    family: &dyn Family,
    groups: &[Vec<Datum>],
) -> Result<CommonSpread, StatsError> {
    let all: Vec<Datum> = groups.iter().flatten().copied().collect();
    let (centre, scale) = spread(&all);
    let groups: Vec<Vec<Datum>> = groups
        .iter()
        .map(|g| g.iter().map(|d| d.scaled(centre, scale)).collect())
        .collect();
    for group in &groups {
        // A group with no upper (or no lower) end anywhere has its best location at infinity.
        let bounded = |end: fn(&Datum) -> f64| group.iter().any(|d| end(d).is_finite());
        if !(bounded(|d| d.lower) && bounded(|d| d.upper)) {
            return Err(StatsError::NoMaximum {
                why: "a group has no failure, or nothing but failures without a lower end",
            });
        }
    }
    let best = |group: &[Datum], delta: f64| {
        summit(delta * spread(group).0, |gamma| {
            let at = local(family, group, gamma, delta);
            (at.value, at.g, at.gg)
        })
    };
    // Slope of the profiled log-likelihood in ln δ: at the best γ only the direct part is left.
    let slope = |ln_delta: f64| {
        let delta = ln_delta.exp();
        groups
            .iter()
            .map(|group| {
                best(group, delta).map_or(f64::NAN, |(gamma, _)| {
                    delta * local(family, group, gamma, delta).d
                })
            })
            .sum::<f64>()
    };
    let (mut low, mut high) = (0.0_f64, 0.0_f64);
    while slope(low) < 0.0 {
        low -= 1.0;
        if low < DELTA_RANGE.0.ln() {
            return Err(StatsError::NoMaximum { why: NO_LIMIT });
        }
    }
    while slope(high) > 0.0 {
        high += 1.0;
        if high > DELTA_RANGE.1.ln() {
            return Err(StatsError::NoMaximum { why: NO_SPREAD });
        }
    }
    let failed = || StatsError::NotConverged {
        what: "the fit of groups with one spread",
    };
    let delta = root_between(slope, low, high).ok_or_else(failed)?.exp();
    let mut fit = CommonSpread {
        mu: Vec::new(),
        sigma: scale / delta,
        ln_likelihood: 0.0,
    };
    for group in &groups {
        let (gamma, height) = best(group, delta).ok_or_else(failed)?;
        let exact: f64 = group.iter().filter(|d| d.is_exact()).map(|d| d.count).sum();
        fit.mu.push(centre + scale * gamma / delta);
        fit.ln_likelihood += height - exact * scale.ln();
    }
    Ok(fit)
}
