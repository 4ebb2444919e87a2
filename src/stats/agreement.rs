//! Agreement of two methods that measured the same things (Bland & Altman 1986, Lancet i:307; 1999, Stat. Methods Med. Res. 8:135).
//!
//! Differences are always second less first method. Limits of agreement hold 95 % of the differences of a normal population.

use super::binomial::Limits;
use super::describe::describe;
use super::error::{StatsError, check_finite};
use super::normal::normal_cdf;
use super::quantiles::chi_squared_quantile;
use super::student::student_quantile;
use super::tolerance::{tolerance_one_sided, tolerance_two_sided};

/// Standard deviations between bias and limit of agreement, as Bland & Altman (1999) print it.
pub const LIMIT_SDS: f64 = 1.96;
/// Pairs needed: with two, a line of the difference on the mean leaves nothing to judge it by.
pub const FEWEST_PAIRS: usize = 3;

/// A limit of agreement with its confidence limits by two ways.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AgreementLimit {
    /// Bias less or plus 1.96 standard deviations.
    pub value: f64,
    /// By the standard error `sd sqrt(3/n)` and Student's t (Bland & Altman 1986); for many pairs.
    pub approximate: Limits,
    /// Exact for normal differences: noncentral t, as for a one-sided tolerance limit (Carkeet 2015, Optom. Vis. Sci. 92:e71).
    pub exact: Limits,
}

/// A line of the difference on the mean of both methods.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Growth of the difference with the mean.
    pub slope: f64,
    /// Confidence limits of the slope by Student's t with `n - 2`.
    pub limits: Limits,
}

/// Agreement of pairs that are independent of each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// Pairs.
    pub n: usize,
    /// Mean difference.
    pub bias: f64,
    /// Confidence limits of the bias by Student's t.
    pub bias_limits: Limits,
    /// Standard deviation of the differences.
    pub sd: f64,
    /// Exact confidence limits of the standard deviation (chi-squared).
    pub sd_limits: Limits,
    /// Lower limit of agreement.
    pub lower: AgreementLimit,
    /// Upper limit of agreement.
    pub upper: AgreementLimit,
    /// Band that holds 95 % of all differences with the confidence asked for (two-sided tolerance factor).
    pub both: Limits,
    /// How the difference depends on the mean; `None` where all means are alike.
    pub trend: Option<Trend>,
}

/// Checks two lists of one length.
fn check_pairs(first: &[f64], second: &[f64]) -> Result<(), StatsError> {
    check_finite(first)?;
    check_finite(second)?;
    let n = first.len().min(second.len());
    if n < FEWEST_PAIRS || first.len() != second.len() {
        return Err(StatsError::TooFew {
            what: "pairs",
            needed: FEWEST_PAIRS,
            found: if first.len() == second.len() { n } else { 0 },
        });
    }
    Ok(())
}

/// Bias and limits of agreement of paired readings, with their confidence limits.
///
/// Fails for fewer than three pairs, lists of different length, values that are not finite, or differences that are all the same.
pub fn agreement(first: &[f64], second: &[f64], confidence: f64) -> Result<Agreement, StatsError> {
    check_pairs(first, second)?;
    let differences: Vec<f64> = second.iter().zip(first).map(|(b, a)| b - a).collect();
    let d = describe(&differences)?;
    let sd = scatter(d.sd)?;
    let (n, count) = (d.n, d.n as f64);
    let bias_limits = d.mean_interval(confidence)?;
    let tail = 0.5 + 0.5 * confidence;
    let t = student_quantile(tail, count - 1.0)?;
    let coverage = normal_cdf(LIMIT_SDS);
    let far = tolerance_one_sided(n as u64, coverage, tail)?;
    let near = tolerance_one_sided(n as u64, coverage, 1.0 - tail)?;
    let half = t * sd * (3.0 / count).sqrt();
    let limit = |sign: f64| {
        let value = d.mean + sign * LIMIT_SDS * sd;
        let (a, b) = (d.mean + sign * near * sd, d.mean + sign * far * sd);
        AgreementLimit {
            value,
            approximate: Limits {
                lower: value - half,
                upper: value + half,
            },
            exact: Limits {
                lower: a.min(b),
                upper: a.max(b),
            },
        }
    };
    let k = tolerance_two_sided(n as u64, 2.0 * coverage - 1.0, confidence)?;
    Ok(Agreement {
        n,
        bias: d.mean,
        bias_limits,
        sd,
        sd_limits: sd_limits(sd, count - 1.0, confidence)?,
        lower: limit(-1.0),
        upper: limit(1.0),
        both: Limits {
            lower: d.mean - k * sd,
            upper: d.mean + k * sd,
        },
        trend: trend(first, second, &differences, confidence)?,
    })
}

/// A standard deviation that is there and not 0.
fn scatter(sd: Option<f64>) -> Result<f64, StatsError> {
    sd.filter(|sd| *sd > 0.0).ok_or(StatsError::OutOfRange {
        what: "the scatter of the differences",
        range: "above 0",
        found: sd.unwrap_or(0.0),
    })
}

/// Exact limits of a standard deviation of normal values.
fn sd_limits(sd: f64, dof: f64, confidence: f64) -> Result<Limits, StatsError> {
    let tail = 0.5 - 0.5 * confidence;
    let at = |p| Ok::<f64, StatsError>(sd * (dof / chi_squared_quantile(p, dof)?).sqrt());
    Ok(Limits {
        lower: at(1.0 - tail)?,
        upper: at(tail)?,
    })
}

fn trend(
    first: &[f64],
    second: &[f64],
    differences: &[f64],
    confidence: f64,
) -> Result<Option<Trend>, StatsError> {
    let means: Vec<f64> = first
        .iter()
        .zip(second)
        .map(|(a, b)| f64::midpoint(*a, *b))
        .collect();
    let (x, y) = (describe(&means)?.mean, describe(differences)?.mean);
    let about = || means.iter().zip(differences).map(|(m, d)| (m - x, d - y));
    let sxx: f64 = about().map(|(m, _)| m * m).sum();
    if sxx <= 0.0 {
        return Ok(None);
    }
    let slope = about().map(|(m, d)| m * d).sum::<f64>() / sxx;
    let residual: f64 = about().map(|(m, d)| (d - slope * m).powi(2)).sum();
    let dof = means.len() as f64 - 2.0;
    let half = student_quantile(0.5 + 0.5 * confidence, dof)? * (residual / dof / sxx).sqrt();
    Ok(Some(Trend {
        slope,
        limits: Limits {
            lower: slope - half,
            upper: slope + half,
        },
    }))
}

/// Agreement where each subject was measured several times by both methods, its true value changing in between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RepeatedAgreement {
    /// Subjects.
    pub subjects: usize,
    /// Pairs.
    pub n: usize,
    /// Mean over subjects of their mean difference.
    pub bias: f64,
    /// Confidence limits of the bias: Student's t over subjects.
    pub bias_limits: Limits,
    /// Standard deviation of a difference of any subject.
    pub sd: f64,
    /// Its confidence limits.
    pub sd_limits: Limits,
    /// Part of it that stays with a subject; 0 where the estimate of its variance is not positive.
    pub sd_between: f64,
    /// Part that changes from pair to pair of a subject; `None` where no subject has two pairs.
    pub sd_within: Option<f64>,
    /// Lower limit of agreement.
    pub lower: f64,
    /// Its confidence limits.
    pub lower_limits: Limits,
    /// Upper limit of agreement.
    pub upper: f64,
    /// Its confidence limits.
    pub upper_limits: Limits,
}

/// Limits of agreement from the differences of each subject: `sd² = S²(means) + (1 - 1/m) S²(within)` with the harmonic mean `m` of the
/// pairs a subject (Bland & Altman 2007, J. Biopharm. Stat. 17:571), confidence limits by recovered variances (Zou 2013, Stat. Methods
/// Med. Res. 22:630; formulas from memory, their coverage checked by simulation).
///
/// Fails for fewer than three subjects with pairs, values that are not finite, or no scatter.
pub fn repeated_agreement(
    subjects: &[Vec<f64>],
    confidence: f64,
) -> Result<RepeatedAgreement, StatsError> {
    let mut means = Vec::new();
    let (mut squares, mut n, mut inverse) = (0.0, 0, 0.0);
    for differences in subjects.iter().filter(|list| !list.is_empty()) {
        let d = describe(differences)?;
        means.push(d.mean);
        squares += d.sd.unwrap_or(0.0).powi(2) * (d.n as f64 - 1.0);
        n += d.n;
        inverse += 1.0 / d.n as f64;
    }
    let k = means.len();
    if k < FEWEST_PAIRS {
        return Err(StatsError::TooFew {
            what: "subjects",
            needed: FEWEST_PAIRS,
            found: k,
        });
    }
    let d = describe(&means)?;
    let between = d.sd.unwrap_or(0.0).powi(2);
    let within_dof = n - k;
    let within = if within_dof > 0 {
        squares / within_dof as f64
    } else {
        0.0
    };
    let share = 1.0 - inverse / k as f64;
    let variance = between + share * within;
    let sd = scatter(Some(variance.sqrt()))?;
    let tail = 0.5 - 0.5 * confidence;
    // How far each variance may lie below and above its estimate.
    let reach = |value: f64, dof: f64, p: f64| {
        chi_squared_quantile(p, dof).map(|chi| value * (1.0 - dof / chi))
    };
    let both = |p: f64| {
        let first = reach(between, k as f64 - 1.0, p)?;
        let second = if within_dof > 0 {
            share * reach(within, within_dof as f64, p)?
        } else {
            0.0
        };
        Ok::<f64, StatsError>(first.hypot(second))
    };
    let sd_limits = Limits {
        lower: (variance - both(1.0 - tail)?).max(0.0).sqrt(),
        upper: (variance + both(tail)?).sqrt(),
    };
    let bias_limits = d.mean_interval(confidence)?;
    let half = d.mean - bias_limits.lower;
    let out = half.hypot(LIMIT_SDS * (sd_limits.upper - sd));
    let inwards = half.hypot(LIMIT_SDS * (sd - sd_limits.lower));
    let (lower, upper) = (d.mean - LIMIT_SDS * sd, d.mean + LIMIT_SDS * sd);
    Ok(RepeatedAgreement {
        subjects: k,
        n,
        bias: d.mean,
        bias_limits,
        sd,
        sd_limits,
        sd_between: (variance - within).max(0.0).sqrt(),
        sd_within: (within_dof > 0).then(|| within.sqrt()),
        lower,
        lower_limits: Limits {
            lower: lower - out,
            upper: lower + inwards,
        },
        upper,
        upper_limits: Limits {
            lower: upper - inwards,
            upper: upper + out,
        },
    })
}

/// Standard deviation of the difference of single readings, from that of the difference of means and, for either method, the standard
/// deviation within repeats and their number: `sqrt(sd² + (1 - 1/m) s²)` summed over both (Bland & Altman 1986).
pub fn single_reading_sd(sd_of_means: f64, methods: &[(f64, f64)]) -> f64 {
    let more: f64 = methods
        .iter()
        .map(|(within, repeats)| (1.0 - 1.0 / repeats.max(1.0)) * within * within)
        .sum();
    (sd_of_means * sd_of_means + more).sqrt()
}
