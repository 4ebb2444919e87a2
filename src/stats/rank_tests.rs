//! Comparisons by ranks, which assume no distribution: two samples, pairs, and several samples.

use super::binomial::Limits;
use super::describe::median;
use super::error::{StatsError, check_finite, check_probability};
use super::normal::{normal_cdf, normal_quantile};
use super::quantiles::chi_squared_upper_tail;
use super::ranks::{drawn_sums, halved_sums, mid_ranks, tails, tie_sum};
use super::t_tests::differences;

/// Values in all up to which probabilities are exact, ties included; beyond, the normal approximation is good to a percent of p.
pub const EXACT_UP_TO: usize = 100;
/// Most differences (or averages) of pairs sorted for a shift.
const MOST_PAIRS: usize = 4_000_000;

/// Result of a rank test of a shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankTest {
    /// Mann-Whitney: pairs in which the second value is the greater, a tie counting half. Signed rank: sum of the ranks of the differences
    /// above zero.
    pub statistic: f64,
    /// Two-sided probability of a statistic as far out as this or farther if nothing is shifted: twice the smaller tail.
    pub p: f64,
    /// Probability of a statistic at least this high: small if the second tends to be greater.
    pub p_greater: f64,
    /// Probability of a statistic at most this high: small if the second tends to be less.
    pub p_less: f64,
    /// True if the probabilities are exact for these ranks and ties, false by the normal approximation with corrections for ties and
    /// continuity.
    pub exact: bool,
}

/// A shift by the estimate of Hodges & Lehmann (1963, Ann. Math. Stat. 34:598).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// Median of all differences second less first (pairs: of the averages of any two differences).
    pub shift: f64,
    /// Its confidence interval, which belongs to the rank test without ties; `None` where the samples are too small for the confidence.
    pub limits: Option<Limits>,
}

impl RankTest {
    fn exact(statistic: f64, (lower, upper): (f64, f64)) -> Self {
        Self {
            statistic,
            p: (2.0 * lower.min(upper)).min(1.0),
            p_greater: upper,
            p_less: lower,
            exact: true,
        }
    }

    fn approximate(statistic: f64, mean: f64, variance: f64) -> Result<Self, StatsError> {
        if variance.is_nan() || variance <= 0.0 {
            return Err(StatsError::NoMaximum {
                why: "all values are alike, so their ranks tell nothing",
            });
        }
        let sd = variance.sqrt();
        // A statistic of whole numbers stands for half a unit to both sides.
        let p_greater = normal_cdf((mean + 0.5 - statistic) / sd);
        let p_less = normal_cdf((statistic + 0.5 - mean) / sd);
        Ok(Self {
            statistic,
            p: (2.0 * p_greater.min(p_less)).min(1.0),
            p_greater,
            p_less,
            exact: false,
        })
    }
}

fn need(what: &'static str, needed: usize, found: usize) -> Result<(), StatsError> {
    if found < needed {
        Err(StatsError::TooFew {
            what,
            needed,
            found,
        })
    } else {
        Ok(())
    }
}

/// Rank-sum test of two independent samples (Mann & Whitney 1947, Ann. Math. Stat. 18:50). Exact for up to [`EXACT_UP_TO`] values in
/// all; grades with many ties are as welcome as measured values.
pub fn mann_whitney(first: &[f64], second: &[f64]) -> Result<RankTest, StatsError> {
    check_finite(first)?;
    check_finite(second)?;
    need("values in a sample", 1, first.len().min(second.len()))?;
    let all: Vec<f64> = first.iter().chain(second).copied().collect();
    let (ranks, ties) = mid_ranks(&all);
    let (n, m) = (all.len(), second.len());
    let sum: f64 = ranks.iter().skip(first.len()).sum();
    let least = 0.5 * (m * (m + 1)) as f64;
    if n <= EXACT_UP_TO {
        // Doubled ranks are whole.
        let doubled = |r: f64| (2.0 * r) as usize;
        let scores: Vec<usize> = ranks.iter().map(|&r| doubled(r)).collect();
        return Ok(RankTest::exact(
            sum - least,
            tails(&drawn_sums(&scores, m), doubled(sum)),
        ));
    }
    let (a, b, count) = (first.len() as f64, m as f64, n as f64);
    let ties = tie_sum(&ties) / (count * (count - 1.0));
    RankTest::approximate(
        sum - least,
        0.5 * a * b,
        a * b / 12.0 * (count + 1.0 - ties),
    )
}

/// Signed-rank test of pairs, second less first (Wilcoxon 1945, Biometrics Bull. 1:80). Pairs without difference are left out, as Wilcoxon
/// did. Exact for up to [`EXACT_UP_TO`] pairs.
pub fn signed_rank(first: &[f64], second: &[f64]) -> Result<RankTest, StatsError> {
    let mut differences = differences(first, second)?;
    check_finite(&differences)?;
    differences.retain(|d| *d != 0.0);
    need("pairs that differ", 1, differences.len())?;
    let sizes: Vec<f64> = differences.iter().map(|d| d.abs()).collect();
    let (ranks, ties) = mid_ranks(&sizes);
    // Folded from 0: the sum of nothing is -0 otherwise.
    let statistic = ranks
        .iter()
        .zip(&differences)
        .filter(|(_, d)| **d > 0.0)
        .fold(0.0, |sum, (rank, _)| sum + rank);
    let n = ranks.len();
    if n <= EXACT_UP_TO {
        let doubled = |r: f64| (2.0 * r) as usize;
        let scores: Vec<usize> = ranks.iter().map(|&r| doubled(r)).collect();
        return Ok(RankTest::exact(
            statistic,
            tails(&halved_sums(&scores), doubled(statistic)),
        ));
    }
    let count = n as f64;
    let mean = 0.25 * count * (count + 1.0);
    let variance = count * (count + 1.0) * (2.0 * count + 1.0) / 24.0 - tie_sum(&ties) / 48.0;
    RankTest::approximate(statistic, mean, variance)
}

/// Shift between two independent samples, with the interval that belongs to [`mann_whitney`].
pub fn hodges_lehmann(first: &[f64], second: &[f64], confidence: f64) -> Result<Shift, StatsError> {
    check_finite(first)?;
    check_finite(second)?;
    need("values in a sample", 1, first.len().min(second.len()))?;
    let pairs = first.len().saturating_mul(second.len());
    check_pairs(pairs)?;
    let all: Vec<f64> = first
        .iter()
        .flat_map(|a| second.iter().map(move |b| b - a))
        .collect();
    let (n, m) = (first.len() + second.len(), second.len());
    let tail = tail_of(confidence)?;
    let rank = if n <= EXACT_UP_TO {
        let scores: Vec<usize> = (1..=n).collect();
        rank_below(
            drawn_sums(&scores, m).into_iter().skip(m * (m + 1) / 2),
            tail,
        )
    } else {
        let variance = pairs as f64 * (n + 1) as f64 / 12.0;
        (0.5 * pairs as f64 + normal_quantile(tail) * variance.sqrt()).floor() as usize
    };
    shift_of(all, rank)
}

/// Shift of pairs, second less first, with the interval that belongs to [`signed_rank`].
pub fn paired_shift(first: &[f64], second: &[f64], confidence: f64) -> Result<Shift, StatsError> {
    let differences = differences(first, second)?;
    check_finite(&differences)?;
    let n = differences.len();
    need("pairs", 1, n)?;
    let averages = n.saturating_mul(n + 1) / 2;
    check_pairs(averages)?;
    let all: Vec<f64> = differences
        .iter()
        .enumerate()
        .flat_map(|(i, a)| {
            differences
                .iter()
                .skip(i)
                .map(move |b| f64::midpoint(*a, *b))
        })
        .collect();
    let tail = tail_of(confidence)?;
    let rank = if n <= EXACT_UP_TO {
        let scores: Vec<usize> = (1..=n).collect();
        rank_below(halved_sums(&scores).into_iter(), tail)
    } else {
        let count = n as f64;
        let variance = count * (count + 1.0) * (2.0 * count + 1.0) / 24.0;
        (0.5 * averages as f64 + normal_quantile(tail) * variance.sqrt()).floor() as usize
    };
    shift_of(all, rank)
}

fn check_pairs(pairs: usize) -> Result<(), StatsError> {
    if pairs > MOST_PAIRS {
        return Err(StatsError::OutOfRange {
            what: "the number of pairs of values",
            range: "at most 4000000",
            found: pairs as f64,
        });
    }
    Ok(())
}

fn tail_of(confidence: f64) -> Result<f64, StatsError> {
    check_probability("the confidence", confidence)?;
    Ok(0.5 - 0.5 * confidence)
}

/// How many values of the statistic from its least one together have no more probability than `tail`.
fn rank_below(probabilities: impl Iterator<Item = f64>, tail: f64) -> usize {
    let mut sum = 0.0;
    probabilities
        .take_while(|p| {
            sum += p;
            sum <= tail
        })
        .count()
}

/// Median, and the values `rank` from both ends.
fn shift_of(mut all: Vec<f64>, rank: usize) -> Result<Shift, StatsError> {
    all.sort_by(f64::total_cmp);
    let limits = rank.checked_sub(1).and_then(|from_end| {
        let lower = *all.get(from_end)?;
        let upper = *all.get(all.len().checked_sub(rank)?)?;
        Some(Limits { lower, upper })
    });
    let shift = median(&all).ok_or(StatsError::NotConverged {
        what: "the shift: a difference is too large for a number",
    })?;
    Ok(Shift { shift, limits })
}

/// Result of a rank test of several samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KruskalWallis {
    /// Statistic with the correction for ties; chi-squared distributed with `dof` in samples of more than some five values.
    pub h: f64,
    /// Samples less one.
    pub dof: usize,
    /// Probability of a value as high as this or higher if the samples come from one population.
    pub p: f64,
}

/// Rank test of two or more independent samples (Kruskal & Wallis 1952, JASA 47:583), for values or ordered grades.
pub fn kruskal_wallis(samples: &[&[f64]]) -> Result<KruskalWallis, StatsError> {
    need("samples", 2, samples.len())?;
    for sample in samples {
        check_finite(sample)?;
        need("values in a sample", 1, sample.len())?;
    }
    let all: Vec<f64> = samples.iter().flat_map(|s| s.iter().copied()).collect();
    let n = all.len() as f64;
    let (ranks, ties) = mid_ranks(&all);
    let mut rest = ranks.iter();
    let between: f64 = samples
        .iter()
        .map(|s| {
            let mean = rest.by_ref().take(s.len()).sum::<f64>() / s.len() as f64;
            s.len() as f64 * (mean - 0.5 * (n + 1.0)).powi(2)
        })
        .sum();
    let spread = 1.0 - tie_sum(&ties) / (n.powi(3) - n);
    let h = 12.0 / (n * (n + 1.0)) * between / spread;
    if !h.is_finite() {
        return Err(StatsError::NoMaximum {
            why: "all values are alike, so their ranks tell nothing",
        });
    }
    let dof = samples.len() - 1;
    Ok(KruskalWallis {
        h,
        dof,
        p: chi_squared_upper_tail(h, dof as f64),
    })
}
