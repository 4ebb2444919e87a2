//! Comparison of censored groups (Mantel 1966; Peto & Peto 1972, J. R. Stat. Soc. A 135:185).

use nalgebra::{DMatrix, DVector};

use super::error::StatsError;
use super::observation::Observation;
use super::quantiles::chi_squared_upper_tail;

/// Groups that one comparison may have; the covariance is solved as a dense matrix.
const MOST_GROUPS: usize = 200;

/// Result of the log-rank test.
#[derive(Debug, Clone, PartialEq)]
pub struct LogRank {
    /// Test value; chi-squared distributed with `dof` if the groups do not differ.
    pub chi_squared: f64,
    /// Degrees of freedom: groups less one.
    pub dof: usize,
    /// Probability of a value as high as this or higher if the groups do not differ.
    pub p: f64,
    /// Failures seen in each group.
    pub observed: Vec<usize>,
    /// Failures expected in each group if they do not differ.
    pub expected: Vec<f64>,
}

/// Log-rank test of two or more groups. Fails if a group is empty, a value is not finite, nothing failed, or the failures tell nothing
/// about some group (all others had dropped out before).
pub fn logrank(groups: &[&[Observation]]) -> Result<LogRank, StatsError> {
    let k = groups.len();
    if k < 2 {
        return Err(StatsError::TooFew {
            what: "groups",
            needed: 2,
            found: k,
        });
    }
    if k > MOST_GROUPS {
        return Err(StatsError::OutOfRange {
            what: "the number of groups",
            range: "at most 200",
            found: k as f64,
        });
    }
    let mut all: Vec<(f64, bool, usize)> = Vec::new();
    for (g, group) in groups.iter().enumerate() {
        if group.is_empty() {
            return Err(StatsError::TooFew {
                what: "observations in a group",
                needed: 1,
                found: 0,
            });
        }
        if let Some(index) = group.iter().position(|o| !o.value.is_finite()) {
            return Err(StatsError::BadValue {
                must_be: "a finite number",
                index,
            });
        }
        all.extend(group.iter().map(|o| (o.value, !o.censored, g)));
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut at_risk: Vec<usize> = groups.iter().map(|g| g.len()).collect();
    let mut observed = vec![0_usize; k];
    let mut expected = vec![0.0; k];
    let mut variance = DMatrix::<f64>::zeros(k, k);
    for same in all.chunk_by(|a, b| a.0 == b.0) {
        let total: usize = at_risk.iter().sum();
        let failed = same.iter().filter(|o| o.1).count();
        if failed > 0 {
            let (n, d) = (total as f64, failed as f64);
            // Hypergeometric variance; with one unit left there is nothing to divide.
            let factor = if total > 1 {
                d * (n - d) / (n - 1.0)
            } else {
                0.0
            };
            for (i, &ri) in at_risk.iter().enumerate() {
                let share = ri as f64 / n;
                expected[i] += d * share;
                for (j, &rj) in at_risk.iter().enumerate() {
                    let other = rj as f64 / n;
                    variance[(i, j)] += factor * share * (f64::from(u8::from(i == j)) - other);
                }
            }
        }
        for &(_, is_failure, g) in same {
            observed[g] += usize::from(is_failure);
            at_risk[g] -= 1;
        }
    }
    // The differences sum to zero: one group is left out.
    let m = k - 1;
    let difference = DVector::from_iterator(
        m,
        observed
            .iter()
            .zip(&expected)
            .take(m)
            .map(|(&o, e)| o as f64 - e),
    );
    let nothing = StatsError::NoMaximum {
        why: "the failures do not tell the groups apart (none, or never two groups at risk)",
    };
    let Some(cholesky) = variance.view((0, 0), (m, m)).into_owned().cholesky() else {
        return Err(nothing);
    };
    let chi_squared = difference.dot(&cholesky.solve(&difference));
    if !chi_squared.is_finite() {
        return Err(nothing);
    }
    Ok(LogRank {
        chi_squared,
        dof: m,
        p: chi_squared_upper_tail(chi_squared, m as f64),
        observed,
        expected,
    })
}
