//! Tolerance limits that assume no distribution: values of the ordered sample itself (Wilks 1941, Ann. Math. Stat. 12:91).

use super::binomial::{Limits, beta_reg, sample_size};
use super::error::{StatsError, check_finite, check_probability};

/// Largest sample taken, as for proportions.
const MOST_VALUES: usize = 10_000;

/// Ordered values as tolerance limits. Each is `None` where the sample is too small; [`order_sample_size`] says how many values are needed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OrderLimits {
    /// At least the part `coverage` lies above this value with the confidence asked for.
    pub lower: Option<f64>,
    /// At least that part lies below this value.
    pub upper: Option<f64>,
    /// At least that part lies between these two; as many values are left out below as above, or one more above.
    pub both: Option<Limits>,
    /// Values beyond the one-sided limit on its own side, plus one: 1 is the least (greatest) value.
    pub rank: usize,
}

/// Confidence that the part `coverage` of any continuous population lies above the value of rank `left_out` of `n` (or below, or between
/// two values that leave out as many ranks together): `1 - I(coverage; n - m + 1, m)`, the binomial probability of at least `m` beyond.
pub fn order_confidence(n: usize, left_out: usize, coverage: f64) -> Result<f64, StatsError> {
    check_probability("the coverage", coverage)?;
    if n > MOST_VALUES {
        return Err(StatsError::OutOfRange {
            what: "the number of values",
            range: "at most 10000",
            found: n as f64,
        });
    }
    if left_out == 0 || left_out > n {
        return Err(StatsError::OutOfRange {
            what: "the number of ranks left out",
            range: "1 to the number of values",
            found: left_out as f64,
        });
    }
    let m = left_out as f64;
    Ok(1.0 - beta_reg(n as f64 - m + 1.0, m, coverage))
}

/// Values needed for a limit that leaves out `left_out` ranks: 1 for the least or greatest value, 2 for both together.
pub fn order_sample_size(coverage: f64, confidence: f64, left_out: u64) -> Result<u64, StatsError> {
    let Some(failures) = left_out.checked_sub(1) else {
        return Err(StatsError::OutOfRange {
            what: "the number of ranks left out",
            range: "at least 1",
            found: 0.0,
        });
    };
    sample_size(coverage, confidence, failures)
}

/// Tightest ordered values that hold the part `coverage` with at least `confidence`.
pub fn order_limits(
    values: &[f64],
    coverage: f64,
    confidence: f64,
) -> Result<OrderLimits, StatsError> {
    /// Room for rounding where the confidence comes out as asked for.
    const ROUNDING: f64 = 1e-12;
    check_finite(values)?;
    check_probability("the coverage", coverage)?;
    check_probability("the confidence", confidence)?;
    let n = values.len();
    if n == 0 {
        return Err(StatsError::TooFew {
            what: "values",
            needed: 1,
            found: 0,
        });
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    // The confidence falls with the ranks left out.
    let (mut most, mut too_many) = (0, n + 1);
    while too_many - most > 1 {
        let middle = most + (too_many - most) / 2;
        if order_confidence(n, middle, coverage)? >= confidence - ROUNDING {
            most = middle;
        } else {
            too_many = middle;
        }
    }
    let from_below = |rank: usize| sorted.get(rank.checked_sub(1)?).copied();
    let from_above = |rank: usize| sorted.get(n.checked_sub(rank)?).copied();
    let both = || {
        let low = most / 2;
        let limits = Limits {
            lower: from_below(low)?,
            upper: from_above(most - low).filter(|_| most > low)?,
        };
        (limits.lower < limits.upper).then_some(limits)
    };
    Ok(OrderLimits {
        lower: from_below(most),
        upper: if most > 0 { from_above(most) } else { None },
        both: both(),
        rank: most,
    })
}
