//! One-way analysis of variance.

use super::describe::describe;
use super::error::{StatsError, check_finite};
use super::quantiles::f_upper_tail;

/// A one-way analysis of variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneWay {
    /// Sum of squares between groups.
    pub ss_between: f64,
    /// Its degrees of freedom: groups less one.
    pub df_between: usize,
    /// Sum of squares within groups.
    pub ss_within: f64,
    /// Its degrees of freedom: values less groups.
    pub df_within: usize,
    /// Mean square between over mean square within.
    pub f: f64,
    /// Probability of an F at least as large if all groups have one mean.
    pub p: f64,
    /// Share of the total sum of squares that is between groups.
    pub r_squared: f64,
    /// Standard deviation within groups.
    pub residual_sd: f64,
}

/// Analyses groups of any size. Values are taken relative to the first one, so that leading digits they share cost nothing.
///
/// Fails for fewer than two groups, an empty group, no group with two values, or a value that is not finite.
pub fn one_way(groups: &[&[f64]]) -> Result<OneWay, StatsError> {
    let too_few = |what, needed, found| StatsError::TooFew {
        what,
        needed,
        found,
    };
    if groups.len() < 2 {
        return Err(too_few("groups", 2, groups.len()));
    }
    if groups.iter().any(|group| group.is_empty()) {
        return Err(too_few("values of a group", 1, 0));
    }
    let all: Vec<f64> = groups.iter().flat_map(|g| g.iter().copied()).collect();
    check_finite(&all)?;
    let n = all.len();
    if n == groups.len() {
        return Err(too_few("values of some group", 2, 1));
    }
    let origin = all.first().copied().unwrap_or(0.0);
    let relative = |values: &[f64]| values.iter().map(|v| v - origin).collect::<Vec<f64>>();
    let grand = describe(&relative(&all))?.mean;
    let (mut ss_between, mut ss_within) = (0.0, 0.0);
    for group in groups {
        let d = describe(&relative(group))?;
        ss_between += d.n as f64 * (d.mean - grand).powi(2);
        ss_within += d.sd.unwrap_or(0.0).powi(2) * (d.n as f64 - 1.0);
    }
    let (df_between, df_within) = (groups.len() - 1, n - groups.len());
    let mean_within = ss_within / df_within as f64;
    let f = ss_between / df_between as f64 / mean_within;
    if !f.is_finite() {
        return Err(StatsError::OutOfRange {
            what: "the scatter within groups",
            range: "above 0",
            found: mean_within,
        });
    }
    Ok(OneWay {
        ss_between,
        df_between,
        ss_within,
        df_within,
        f,
        p: f_upper_tail(f, df_between as f64, df_within as f64)?,
        r_squared: ss_between / (ss_between + ss_within),
        residual_sd: mean_within.sqrt(),
    })
}
