//! Normal tolerance limits of a sample, on the scale of the values or on that of their logarithms.

use super::binomial::Limits;
use super::describe::describe;
use super::error::StatsError;
use super::tolerance::{tolerance_one_sided, tolerance_two_sided};

/// Scale on which a sample is taken as normal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NormalScale {
    /// The values themselves.
    Values,
    /// Their natural logarithms: for positive values that scatter in proportion.
    Logarithms,
}

/// Limits that hold a part of the population with a stated confidence, in the unit of the values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToleranceLimits {
    /// One-sided: that part lies above.
    pub lower: f64,
    /// One-sided: that part lies below.
    pub upper: f64,
    /// Two-sided: that part lies between.
    pub both: Limits,
    /// Factor of the standard deviation of the one-sided limits.
    pub k_one_sided: f64,
    /// Factor of the two-sided ones.
    pub k_two_sided: f64,
}

/// Exact tolerance limits `mean ± k sd` (ISO 16269-6), on logarithms `exp(mean ± k sd)` of them. Valid for normal values (logarithms)
/// only: see [`shapiro_wilk`](super::shapiro_wilk), and [`order_limits`](super::order_limits) where that fails.
pub fn tolerance_limits(
    values: &[f64],
    coverage: f64,
    confidence: f64,
    scale: NormalScale,
) -> Result<ToleranceLimits, StatsError> {
    let logarithms = scale == NormalScale::Logarithms;
    if logarithms && let Some(index) = values.iter().position(|v| v.is_nan() || *v <= 0.0) {
        return Err(StatsError::BadValue {
            must_be: "greater than zero for logarithms",
            index,
        });
    }
    let d = if logarithms {
        describe(&values.iter().map(|v| v.ln()).collect::<Vec<_>>())?
    } else {
        describe(values)?
    };
    let n = d.n as u64;
    let one = tolerance_one_sided(n, coverage, confidence)?;
    let two = tolerance_two_sided(n, coverage, confidence)?;
    let sd = d.sd.unwrap_or(f64::NAN);
    let at = |k: f64| {
        let y = d.mean + k * sd;
        if logarithms { y.exp() } else { y }
    };
    Ok(ToleranceLimits {
        lower: at(-one),
        upper: at(one),
        both: Limits {
            lower: at(-two),
            upper: at(two),
        },
        k_one_sided: one,
        k_two_sided: two,
    })
}
