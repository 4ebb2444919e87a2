//! Quantiles of Student's t distribution.

use statrs::function::beta::checked_beta_reg;

use super::error::{StatsError, check_probability};
use super::normal::normal_quantile;
use super::root::root_between;

/// From here on the expansion about the normal quantile is better than the incomplete beta function, whose continued fraction needs ever
/// more terms.
const MANY: f64 = 2e4;
/// Fewest degrees of freedom taken; effective ones of an uncertainty budget are never below 1.
const FEW: f64 = 0.1;

/// Quantile of Student's t distribution; `dof` may be fractional, as effective degrees of freedom are, but not below 0.1.
pub fn student_quantile(p: f64, dof: f64) -> Result<f64, StatsError> {
    check_probability("the probability", p)?;
    if !(dof.is_finite() && dof >= FEW) {
        return Err(StatsError::OutOfRange {
            what: "the degrees of freedom",
            range: "finite and at least 0.1",
            found: dof,
        });
    }
    if dof >= MANY {
        // Abramowitz & Stegun 26.7.5, first three terms.
        let z = normal_quantile(p);
        let first = (z.powi(3) + z) / 4.0;
        let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
        return Ok(z + first / dof + second / (dof * dof));
    }
    let tail = p.min(1.0 - p);
    let upper_tail = |t: f64| {
        let x = 1.0 / (1.0 + t * (t / dof));
        0.5 * checked_beta_reg(0.5 * dof, 0.5, x).unwrap_or(f64::NAN)
    };
    // The logarithm of the tail is nearly straight where the tail itself is nearly flat.
    let miss = |t: f64| (upper_tail(t) / tail).ln();
    let failed = StatsError::NotConverged {
        what: "the quantile of Student's t",
    };
    let mut outer = 2.0;
    while upper_tail(outer) > tail {
        outer *= 4.0;
    }
    let t = root_between(miss, 0.0, outer).ok_or(failed)?;
    Ok(if p < 0.5 { -t } else { t })
}
