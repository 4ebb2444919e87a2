//! What the residuals of a fit say about it: numbers with their p-values, no verdicts.

use nalgebra::DMatrix;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};
use statrs::function::factorial::ln_binomial;

use super::covariance::NoUncertainty;
use super::curve_fit::CurveFit;
use super::error::{FitError, check_length, check_weights};
use super::model::Model;

/// Fewest points for the test of normality (D'Agostino & Stephens 1986, 4.8).
const FEWEST_NORMAL: usize = 8;
/// A point whose leverage is nearer to 1 than this is fitted whatever its value: it has no residual of its own.
const WHOLE: f64 = 1e-9;

/// A statistic with the probability of one at least as extreme if the errors are independent and normal with one (weighted) variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResidualTest {
    /// The statistic.
    pub statistic: f64,
    /// Its p-value.
    pub p: f64,
}

/// Checks of the (weighted) residuals; a test for which there is too little is `None`.
#[derive(Debug, Clone, PartialEq)]
pub struct ResidualChecks {
    /// Autocorrelation of neighbours in `x`, `Σ r_i r_(i+1) / Σ r_i²`. Two-sided p from its normal limit with variance `1/n` (Box, Jenkins
    /// & Reinsel 1994, 2.1.6): approximate below 30 points or so, where the fit itself makes neighbours differ a little.
    pub lag_one: Option<ResidualTest>,
    /// Number of runs of one sign in the order of `x`, with the exact two-sided p (Wald & Wolfowitz 1940): twice the smaller tail.
    pub runs: Option<ResidualTest>,
    /// Anderson-Darling `A*² = A² (1 + 0.75/n + 2.25/n²)` of the studentised residuals against the normal with their own mean and
    /// deviation, p by D'Agostino & Stephens (1986), Goodness-of-Fit Techniques, table 4.9. Needs eight points.
    pub normality: Option<ResidualTest>,
    /// Largest residual in units of its own deviation without the point (externally studentised), with its sign; p two-sided, times
    /// the number of points (Bonferroni; Cook & Weisberg 1982, 2.2.2).
    pub largest: Option<ResidualTest>,
    /// Index of that point.
    pub largest_at: Option<usize>,
    /// Leverage of each point: the part of its own value that the curve follows, 0 to 1; they sum to the number of free parameters.
    pub leverage: Vec<f64>,
    /// Residuals over their own standard deviations, `r / (s sqrt(1 - h))`; `NaN` where the leverage is 1.
    pub studentised: Vec<f64>,
}

/// Checks the residuals of a fit made of these data.
pub fn check_residuals(
    model: &dyn Model,
    x: &[f64],
    y: &[f64],
    weights: Option<&[f64]>,
    fit: &CurveFit,
) -> Result<ResidualChecks, FitError> {
    check_length("y", x.len(), y.len())?;
    check_weights(weights, x.len())?;
    check_length("parameters", model.names().len(), fit.parameters.len())?;
    let n = x.len();
    let root = |i: usize| weights.and_then(|w| w.get(i)).map_or(1.0, |w| w.sqrt());
    let rests: Vec<f64> = x
        .iter()
        .zip(y)
        .enumerate()
        .map(|(i, (&x, &y))| (y - model.value(&fit.parameters, x)) * root(i))
        .collect();
    super::error::check_finite("residuals", &rests)?;
    let leverage = leverage(model, x, &root, fit);
    let s = fit.residual_sd.unwrap_or(f64::NAN);
    let studentised: Vec<f64> = rests
        .iter()
        .zip(&leverage)
        .map(|(r, h)| {
            if 1.0 - h > WHOLE {
                r / (s * (1.0 - h).sqrt())
            } else {
                f64::NAN
            }
        })
        .collect();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| x[a].total_cmp(&x[b]));
    let in_order: Vec<f64> = order.iter().map(|&i| rests[i]).collect();
    let largest = largest(&studentised, fit.dof);
    Ok(ResidualChecks {
        lag_one: lag_one(&in_order),
        runs: runs(&in_order),
        normality: normality(&studentised),
        largest: largest.map(|(_, test)| test),
        largest_at: largest.map(|(at, _)| at),
        leverage,
        studentised,
    })
}

/// Diagonal of the hat matrix of the linearised fit, of the parameters that were free and determined.
fn leverage(model: &dyn Model, x: &[f64], root: &dyn Fn(usize) -> f64, fit: &CurveFit) -> Vec<f64> {
    let free: Vec<usize> = (0..fit.parameters.len())
        .filter(|&j| {
            !matches!(
                fit.missing.get(j),
                Some(Some(NoUncertainty::AtBound | NoUncertainty::Undetermined))
            )
        })
        .collect();
    let mut jacobian = DMatrix::zeros(x.len(), free.len());
    let mut gradient = vec![0.0; fit.parameters.len()];
    for (i, &x) in x.iter().enumerate() {
        model.gradient(&fit.parameters, x, &mut gradient);
        for (column, &j) in free.iter().enumerate() {
            jacobian[(i, column)] = gradient[j] * root(i);
        }
    }
    for mut column in jacobian.column_iter_mut() {
        let norm = column.norm();
        if norm > 0.0 {
            column /= norm;
        }
    }
    if free.is_empty() || jacobian.iter().any(|v| !v.is_finite()) {
        return vec![if free.is_empty() { 0.0 } else { f64::NAN }; x.len()];
    }
    let q = jacobian.qr().q();
    q.row_iter()
        .map(|row| row.norm_squared().min(1.0))
        .collect()
}

fn two_sided(z: f64) -> Option<f64> {
    Some(2.0 * Normal::new(0.0, 1.0).ok()?.sf(z.abs()))
}

fn lag_one(rests: &[f64]) -> Option<ResidualTest> {
    // In units of the largest, so that no square overflows.
    let largest = rests.iter().fold(0.0_f64, |m, r| m.max(r.abs()));
    if rests.len() < 3 || largest <= 0.0 {
        return None;
    }
    let squares: f64 = rests.iter().map(|r| (r / largest).powi(2)).sum();
    let products: f64 = rests
        .windows(2)
        .map(|w| (w[0] / largest) * (w[1] / largest))
        .sum();
    let statistic = products / squares;
    let p = two_sided(statistic * (rests.len() as f64).sqrt())?;
    Some(ResidualTest { statistic, p })
}

fn runs(rests: &[f64]) -> Option<ResidualTest> {
    let signs: Vec<bool> = rests
        .iter()
        .filter(|r| **r != 0.0)
        .map(|r| *r > 0.0)
        .collect();
    let plus = signs.iter().filter(|s| **s).count();
    let minus = signs.len() - plus;
    if plus == 0 || minus == 0 {
        return None;
    }
    let found = 1 + signs.windows(2).filter(|w| w[0] != w[1]).count();
    let (mut below, mut above) = (0.0, 0.0);
    for runs in 2..=signs.len() {
        let share = share_of_runs(runs as u64, plus as u64, minus as u64);
        if runs <= found {
            below += share;
        }
        if runs >= found {
            above += share;
        }
    }
    Some(ResidualTest {
        statistic: found as f64,
        p: (2.0 * f64::min(below, above)).min(1.0),
    })
}

/// Probability of so many runs of `plus` and `minus` signs in random order.
fn share_of_runs(runs: u64, plus: u64, minus: u64) -> f64 {
    // In how many ways `n` signs make `k` runs.
    let ways = |n: u64, k: u64| {
        if k == 0 || k > n {
            f64::NEG_INFINITY
        } else {
            ln_binomial(n - 1, k - 1)
        }
    };
    let half = runs / 2;
    let all = ln_binomial(plus + minus, plus);
    if runs.is_multiple_of(2) {
        2.0 * (ways(plus, half) + ways(minus, half) - all).exp()
    } else {
        (ways(plus, half + 1) + ways(minus, half) - all).exp()
            + (ways(plus, half) + ways(minus, half + 1) - all).exp()
    }
}

fn normality(studentised: &[f64]) -> Option<ResidualTest> {
    let mut values: Vec<f64> = studentised
        .iter()
        .copied()
        .filter(|v| v.is_finite())
        .collect();
    values.sort_by(f64::total_cmp);
    let n = values.len() as f64;
    if values.len() < FEWEST_NORMAL {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let sd = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let normal = Normal::new(mean, sd).ok()?;
    let sum: f64 = values
        .iter()
        .zip(values.iter().rev())
        .enumerate()
        .map(|(i, (&low, &high))| {
            (2.0 * i as f64 + 1.0)
                * (normal.cdf(low).max(f64::MIN_POSITIVE).ln()
                    + normal.sf(high).max(f64::MIN_POSITIVE).ln())
        })
        .sum();
    let a = (-n - sum / n) * (1.0 + 0.75 / n + 2.25 / (n * n));
    let p = if a <= 0.2 {
        1.0 - (-13.436 + 101.14 * a - 223.73 * a * a).exp()
    } else if a <= 0.34 {
        1.0 - (-8.318 + 42.796 * a - 59.938 * a * a).exp()
    } else if a < 0.6 {
        (0.9177 - 4.279 * a - 1.38 * a * a).exp()
    } else {
        // Beyond 13 the parabola turns up again; its p is 0 to every digit that counts there.
        let a = a.min(13.0);
        (1.2937 - 5.709 * a + 0.0186 * a * a).exp()
    };
    a.is_finite().then_some(ResidualTest { statistic: a, p })
}

fn largest(studentised: &[f64], dof: usize) -> Option<(usize, ResidualTest)> {
    let (at, &r) = studentised
        .iter()
        .enumerate()
        .filter(|(_, r)| r.is_finite())
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    let left = dof.checked_sub(1).filter(|left| *left > 0)? as f64;
    // With its own point in the estimate of s, r² cannot exceed the degrees of freedom.
    let rest = (dof as f64 - r * r).max(0.0);
    let statistic = r * (left / rest).sqrt();
    let p = if statistic.is_finite() {
        let tail = StudentsT::new(0.0, 1.0, left).ok()?.sf(statistic.abs());
        (2.0 * tail * studentised.len() as f64).min(1.0)
    } else {
        0.0
    };
    Some((at, ResidualTest { statistic, p }))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::fit_curve;
    use super::super::made_up::Straight;
    use super::*;

    #[test]
    fn runs_are_counted_as_by_listing_all_orders() {
        // Every order of 5 plus and 4 minus signs, counted.
        let mut counts = [0_u32; 10];
        let mut all = 0_u32;
        for bits in 0..1_u32 << 9 {
            if bits.count_ones() == 5 {
                let changes = (0..8)
                    .filter(|k| (bits >> k) & 1 != (bits >> (k + 1)) & 1)
                    .count();
                counts[changes + 1] += 1;
                all += 1;
            }
        }
        for (runs, count) in counts.iter().enumerate().skip(2) {
            let listed = f64::from(*count) / f64::from(all);
            assert!(
                (share_of_runs(runs as u64, 5, 4) - listed).abs() < 1e-12,
                "{runs}"
            );
        }
    }

    #[test]
    fn a_bent_curve_fitted_straight_is_found_out_and_noise_is_not() {
        let x: Vec<f64> = (0..40).map(f64::from).collect();
        let bent: Vec<f64> = x.iter().map(|x| 0.01 * x * x).collect();
        let fit = fit_curve(&Straight, &x, &bent, None, &[0.0, 1.0], None).unwrap();
        let checks = check_residuals(&Straight, &x, &bent, None, &fit).unwrap();
        assert!(checks.lag_one.unwrap().statistic > 0.7 && checks.lag_one.unwrap().p < 1e-4);
        assert_eq!(checks.runs.unwrap().statistic, 3.0);
        assert!(checks.runs.unwrap().p < 1e-6);
        // Golden-ratio points through the normal quantile: evenly spread, in an order without memory.
        let normal = Normal::new(0.0, 1.0).unwrap();
        let noisy: Vec<f64> = x
            .iter()
            .map(|x| x + normal.inverse_cdf((0.5 + 0.754_877_666 * x * (1.0 + x)).fract()))
            .collect();
        let fit = fit_curve(&Straight, &x, &noisy, None, &[0.0, 1.0], None).unwrap();
        let checks = check_residuals(&Straight, &x, &noisy, None, &fit).unwrap();
        assert!(checks.normality.unwrap().p > 0.05, "{checks:?}");
        assert!(checks.largest.unwrap().p > 0.05, "{checks:?}");
        assert!((checks.leverage.iter().sum::<f64>() - 2.0).abs() < 1e-9);
    }
}
