//! Quantiles of the chi-squared and F distributions, and the upper tail of F.

use statrs::function::beta::checked_beta_reg;
use statrs::function::gamma::{checked_gamma_lr, checked_gamma_ur};

use super::error::{StatsError, check_probability};
use super::root::root_between;

/// Largest number of degrees of freedom taken: up to here the incomplete functions are good to nine digits.
const MOST_DOF: f64 = 1e5;

fn check_dof(dof: f64) -> Result<(), StatsError> {
    if dof > 0.0 && dof <= MOST_DOF {
        Ok(())
    } else {
        Err(StatsError::OutOfRange {
            what: "the degrees of freedom",
            range: "above 0 and at most 1e5",
            found: dof,
        })
    }
}

/// Quantile of the chi-squared distribution, by inversion of the incomplete gamma function.
pub fn chi_squared_quantile(p: f64, dof: f64) -> Result<f64, StatsError> {
    check_probability("the probability", p)?;
    check_dof(dof)?;
    let a = 0.5 * dof;
    // The smaller tail keeps its digits.
    let miss = |half: f64| {
        if half <= 0.0 {
            return if p < 0.5 { -p } else { p - 1.0 };
        }
        let value = if p < 0.5 {
            checked_gamma_lr(a, half).map(|lower| lower - p)
        } else {
            checked_gamma_ur(a, half).map(|upper| (1.0 - p) - upper)
        };
        value.unwrap_or(f64::NAN)
    };
    let failed = StatsError::NotConverged {
        what: "the chi-squared quantile",
    };
    let mut outer = a.max(1.0);
    while miss(outer) < 0.0 {
        outer *= 2.0;
    }
    Ok(2.0 * root_between(miss, 0.0, outer).ok_or(failed)?)
}

/// Probability of a chi-squared of at least `x` with `dof` degrees of freedom; 1 for nothing, `NaN` for a `NaN`.
pub(super) fn chi_squared_upper_tail(x: f64, dof: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    if x == f64::INFINITY {
        return 0.0;
    }
    checked_gamma_ur(0.5 * dof, 0.5 * x).unwrap_or(f64::NAN)
}

/// Quantile of the F distribution with `first` and `second` degrees of freedom, by inversion of the incomplete beta function.
pub fn f_quantile(p: f64, first: f64, second: f64) -> Result<f64, StatsError> {
    check_probability("the probability", p)?;
    check_dof(first)?;
    check_dof(second)?;
    let (a, b) = (0.5 * first, 0.5 * second);
    let failed = || StatsError::NotConverged {
        what: "the F quantile",
    };
    let solve = |a: f64, b: f64, tail: f64| {
        let miss = |x: f64| checked_beta_reg(a, b, x).unwrap_or(f64::NAN) - tail;
        root_between(miss, 0.0, 1.0).ok_or_else(failed)
    };
    // F = (x / first) / ((1 - x) / second) with x of the beta distribution; from the side where x is not near 1.
    if p < 0.5 {
        let x = solve(a, b, p)?;
        Ok(second * x / (first * (1.0 - x)))
    } else {
        let y = solve(b, a, 1.0 - p)?;
        Ok(second * (1.0 - y) / (first * y))
    }
}

/// Probability of an F of at least `f` with `first` and `second` degrees of freedom.
pub fn f_upper_tail(f: f64, first: f64, second: f64) -> Result<f64, StatsError> {
    check_dof(first)?;
    check_dof(second)?;
    if f.is_nan() || f < 0.0 {
        return Err(StatsError::OutOfRange {
            what: "the F statistic",
            range: "not negative",
            found: f,
        });
    }
    let x = second / (second + first * f);
    checked_beta_reg(0.5 * second, 0.5 * first, x).map_err(|_| StatsError::NotConverged {
        what: "the tail of F",
    })
}
