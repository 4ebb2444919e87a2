//! A straight line where both methods err (Deming 1943, Statistical Adjustment of Data; York 1966, Can. J. Phys. 44:1079).

use super::binomial::Limits;
use super::error::{StatsError, check_finite};
use super::student::student_quantile;

/// Groups needed for limits by leaving one out: a line has two numbers.
const FEWEST_GROUPS: usize = 3;

/// A line `y = intercept + slope x`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DemingLine {
    /// Slope.
    pub slope: f64,
    /// Intercept.
    pub intercept: f64,
}

/// A line with confidence limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DemingFit {
    /// The line through all points.
    pub line: DemingLine,
    /// Standard error of the slope.
    pub u_slope: f64,
    /// Standard error of the intercept.
    pub u_intercept: f64,
    /// Confidence limits of the slope.
    pub slope_limits: Limits,
    /// Confidence limits of the intercept.
    pub intercept_limits: Limits,
}

/// The line for errors of both methods whose variances stand in the ratio `ratio`, that of `y` over that of `x`, the same at every
/// point. Fails for fewer than three points, a ratio that is not positive, or points without any slope.
pub fn deming(x: &[f64], y: &[f64], ratio: f64) -> Result<DemingLine, StatsError> {
    check_finite(x)?;
    check_finite(y)?;
    let n = x.len().min(y.len());
    if n < FEWEST_GROUPS || x.len() != y.len() {
        return Err(StatsError::TooFew {
            what: "points",
            needed: FEWEST_GROUPS,
            found: if x.len() == y.len() { n } else { 0 },
        });
    }
    if !(ratio.is_finite() && ratio > 0.0) {
        return Err(StatsError::OutOfRange {
            what: "the ratio of error variances",
            range: "above 0",
            found: ratio,
        });
    }
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n as f64;
    let (mx, my) = (mean(x), mean(y));
    let about = || x.iter().zip(y).map(|(a, b)| (a - mx, b - my));
    let sxx: f64 = about().map(|(a, _)| a * a).sum();
    let syy: f64 = about().map(|(_, b)| b * b).sum();
    let sxy: f64 = about().map(|(a, b)| a * b).sum();
    let apart = syy - ratio * sxx;
    let root = apart.hypot(2.0 * ratio.sqrt() * sxy);
    // The form without cancellation.
    let slope = if apart >= 0.0 {
        (apart + root) / (2.0 * sxy)
    } else {
        2.0 * ratio * sxy / (root - apart)
    };
    if !slope.is_finite() {
        return Err(StatsError::NoMaximum {
            why: "the methods do not go together, so there is no line",
        });
    }
    Ok(DemingLine {
        slope,
        intercept: my - slope * mx,
    })
}

/// The line with confidence limits by the jackknife, leaving out one group of points at a time (Linnet 1993, Clin. Chem. 39:424, for
/// single points), and Student's t with two degrees of freedom fewer than groups. Points of one group, named by `groups`, need not be
/// independent of each other.
pub fn deming_fit(
    x: &[f64],
    y: &[f64],
    groups: &[usize],
    ratio: f64,
    confidence: f64,
) -> Result<DemingFit, StatsError> {
    let line = deming(x, y, ratio)?;
    let mut names = groups.to_vec();
    names.sort_unstable();
    names.dedup();
    let few = |found| StatsError::TooFew {
        what: "groups of points",
        needed: FEWEST_GROUPS,
        found,
    };
    if names.len() < FEWEST_GROUPS || groups.len() != x.len() {
        return Err(few(names.len()));
    }
    let mut left = Vec::with_capacity(names.len());
    for name in &names {
        let (mut some_x, mut some_y) = (Vec::new(), Vec::new());
        for ((a, b), group) in x.iter().zip(y).zip(groups) {
            if group != name {
                some_x.push(*a);
                some_y.push(*b);
            }
        }
        left.push(deming(&some_x, &some_y, ratio)?);
    }
    let g = left.len() as f64;
    let error = |pick: fn(&DemingLine) -> f64| {
        let mean = left.iter().map(pick).sum::<f64>() / g;
        let squares: f64 = left.iter().map(|l| (pick(l) - mean).powi(2)).sum();
        ((g - 1.0) / g * squares).sqrt()
    };
    let t = student_quantile(0.5 + 0.5 * confidence, g - 2.0)?;
    let limits = |value: f64, u: f64| Limits {
        lower: value - t * u,
        upper: value + t * u,
    };
    let (u_slope, u_intercept) = (error(|l| l.slope), error(|l| l.intercept));
    Ok(DemingFit {
        line,
        u_slope,
        u_intercept,
        slope_limits: limits(line.slope, u_slope),
        intercept_limits: limits(line.intercept, u_intercept),
    })
}
