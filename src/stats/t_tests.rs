//! Means of two samples: difference, and equivalence within a margin.

use super::binomial::Limits;
use super::describe::describe;
use super::error::{StatsError, check_probability};
use super::quantiles::f_upper_tail;
use super::student::student_quantile;

/// A difference of means with Student's t.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanDifference {
    /// Second mean less first (paired: mean of second less first).
    pub difference: f64,
    /// Standard error of the difference.
    pub standard_error: f64,
    /// Degrees of freedom; whole for pairs, effective ones (Welch & Satterthwaite) for two samples.
    pub dof: f64,
    /// Difference over its standard error.
    pub t: f64,
    /// Two-sided probability of a `t` as far from 0 as this or farther, if the means are equal.
    pub p: f64,
}

/// Equivalence by two one-sided tests (Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Equivalence {
    /// Probability of a difference so far above the lower margin if the true one lies at it.
    pub p_lower: f64,
    /// Probability of a difference so far below the upper margin if the true one lies at it.
    pub p_upper: f64,
    /// The larger of both: p of "not equivalent".
    pub p: f64,
}

impl MeanDifference {
    fn new(difference: f64, standard_error: f64, dof: f64) -> Result<Self, StatsError> {
        if !(standard_error > 0.0 && standard_error.is_finite() && dof.is_finite()) {
            return Err(StatsError::NoScatter);
        }
        let t = difference / standard_error;
        Ok(Self {
            difference,
            standard_error,
            dof,
            t,
            p: f_upper_tail(t * t, 1.0, dof)?,
        })
    }

    /// Two-sided confidence interval of the difference.
    pub fn limits(&self, confidence: f64) -> Result<Limits, StatsError> {
        check_probability("the confidence", confidence)?;
        let off = student_quantile(0.5 + 0.5 * confidence, self.dof)? * self.standard_error;
        Ok(Limits {
            lower: self.difference - off,
            upper: self.difference + off,
        })
    }

    /// Equivalence within `margins` of the difference: both tests must reject at `alpha`, which is the same as the `1 - 2 alpha` interval
    /// lying within the margins.
    pub fn equivalence(&self, margins: Limits) -> Result<Equivalence, StatsError> {
        if margins.lower.is_nan() || margins.upper.is_nan() || margins.lower >= margins.upper {
            return Err(StatsError::OutOfRange {
                what: "the lower margin",
                range: "below the upper one",
                found: margins.lower,
            });
        }
        let upper_tail = |t: f64| -> Result<f64, StatsError> {
            let both = f_upper_tail(t * t, 1.0, self.dof)?;
            Ok(if t > 0.0 {
                0.5 * both
            } else {
                1.0 - 0.5 * both
            })
        };
        let p_lower = upper_tail((self.difference - margins.lower) / self.standard_error)?;
        let p_upper = upper_tail((margins.upper - self.difference) / self.standard_error)?;
        Ok(Equivalence {
            p_lower,
            p_upper,
            p: p_lower.max(p_upper),
        })
    }
}

/// Difference of the means of two independent samples whose scatters may differ (Welch 1947, Biometrika 34:28), for populations that are
/// nearly normal. Fails below two values in a sample, or where neither scatters.
pub fn welch(first: &[f64], second: &[f64]) -> Result<MeanDifference, StatsError> {
    let (mean_a, a, dof_a) = mean_and_square(first)?;
    let (mean_b, b, dof_b) = mean_and_square(second)?;
    let dof = (a + b).powi(2) / (a * a / dof_a + b * b / dof_b);
    MeanDifference::new(mean_b - mean_a, (a + b).sqrt(), dof)
}

/// Mean difference of pairs, second less first: for the same units measured twice. Fails for lists of different length, fewer than two
/// pairs, or differences that do not scatter.
pub fn paired_t(first: &[f64], second: &[f64]) -> Result<MeanDifference, StatsError> {
    let (mean, square, dof) = mean_and_square(&differences(first, second)?)?;
    MeanDifference::new(mean, square.sqrt(), dof)
}

/// Second less first, of lists of one length.
pub(super) fn differences(first: &[f64], second: &[f64]) -> Result<Vec<f64>, StatsError> {
    if first.len() != second.len() {
        return Err(StatsError::Unbalanced {
            what: "values of pairs",
            expected: first.len(),
            found: second.len(),
        });
    }
    Ok(first.iter().zip(second).map(|(a, b)| b - a).collect())
}

/// Mean, squared standard error, degrees of freedom.
fn mean_and_square(values: &[f64]) -> Result<(f64, f64, f64), StatsError> {
    let d = describe(values)?;
    let Some(standard_error) = d.standard_error else {
        return Err(StatsError::TooFew {
            what: "values",
            needed: 2,
            found: d.n,
        });
    };
    Ok((d.mean, standard_error * standard_error, d.n as f64 - 1.0))
}
