//! Mean, scatter and the t-interval of the mean.

use super::binomial::Limits;
use super::error::{StatsError, check_finite, check_probability};
use super::student::student_quantile;

/// Summary of a sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Description {
    /// Number of values.
    pub n: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Standard deviation with `n - 1`; `None` for a single value.
    pub sd: Option<f64>,
    /// Standard error of the mean, `sd / sqrt(n)`; `None` for a single value.
    pub standard_error: Option<f64>,
    /// Least value.
    pub min: f64,
    /// Greatest value.
    pub max: f64,
}

impl Description {
    /// Confidence interval of the mean by Student's t, for values that are independent and nearly normal. None where the values do not differ:
    /// their scatter is then below what was resolved, not nothing.
    pub fn mean_interval(&self, confidence: f64) -> Result<Limits, StatsError> {
        check_probability("the confidence", confidence)?;
        let Some(standard_error) = self.standard_error else {
            return Err(StatsError::TooFew {
                what: "values",
                needed: 2,
                found: self.n,
            });
        };
        if standard_error <= 0.0 {
            return Err(StatsError::NoScatter);
        }
        let t = student_quantile(0.5 + 0.5 * confidence, self.n as f64 - 1.0)?;
        Ok(Limits {
            lower: self.mean - t * standard_error,
            upper: self.mean + t * standard_error,
        })
    }
}

/// Describes a sample. The mean is summed with compensation (Neumaier 1974), the deviations are taken from it in a second pass, so that
/// values far from zero lose nothing. Fails for no values or one that is not finite.
pub fn describe(values: &[f64]) -> Result<Description, StatsError> {
    check_finite(values)?;
    let n = values.len();
    if n == 0 {
        return Err(StatsError::TooFew {
            what: "values",
            needed: 1,
            found: 0,
        });
    }
    let count = n as f64;
    let rough = compensated(values.iter().copied()) / count;
    // The second pass also mends the last digits of the mean.
    let mean = rough + compensated(values.iter().map(|v| v - rough)) / count;
    let off = compensated(values.iter().map(|v| v - mean));
    let squares = compensated(values.iter().map(|v| (v - mean).powi(2)));
    let same = values.windows(2).all(|pair| pair.first() == pair.last());
    let squares = if same { 0.0 } else { squares };
    let sd = (n > 1).then(|| ((squares - off * off / count).max(0.0) / (count - 1.0)).sqrt());
    Ok(Description {
        n,
        mean,
        sd,
        standard_error: sd.map(|s| s / count.sqrt()),
        min: values.iter().copied().fold(f64::INFINITY, f64::min),
        max: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    })
}

/// Middle value, or the mean of the two middle ones; `None` of no values or one that is not finite.
pub fn median(values: &[f64]) -> Option<f64> {
    check_finite(values).ok()?;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let upper = sorted.get(sorted.len() / 2).copied()?;
    let lower = sorted.get((sorted.len() - 1) / 2).copied()?;
    Some(f64::midpoint(lower, upper))
}

/// Sum with the rounding errors carried along.
fn compensated(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut lost) = (0.0_f64, 0.0_f64);
    for v in values {
        let next = sum + v;
        lost += if sum.abs() >= v.abs() {
            (sum - next) + v
        } else {
            (v - next) + sum
        };
        sum = next;
    }
    sum + lost
}
