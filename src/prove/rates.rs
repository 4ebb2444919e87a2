//! Error rates of a set of runs.

use super::compare::{Break, Proven};
use crate::stats::clopper_pearson;

/// From this fall over the noise of one sample a break counts as clear.
pub const CLEAR: f64 = 6.0;
/// Confidence of the limits of a rate.
const CONFIDENCE: f64 = 0.95;

/// Some of so many.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Share {
    /// Some.
    pub some: u64,
    /// Of all.
    pub all: u64,
}

impl Share {
    /// How many of these it is true of.
    pub fn of<T>(items: impl IntoIterator<Item = T>, is: impl Fn(&T) -> bool) -> Self {
        let mut share = Self::default();
        for item in items {
            share.all += 1;
            share.some += u64::from(is(&item));
        }
        share
    }

    /// The share; none of none.
    pub fn value(self) -> Option<f64> {
        (self.all > 0).then(|| self.some as f64 / self.all as f64)
    }

    /// Its exact limits at 95 % (Clopper & Pearson 1934); none of none.
    pub fn limits(self) -> Option<(f64, f64)> {
        let limits = clopper_pearson(self.some, self.all, CONFIDENCE).ok()?;
        Some((limits.lower, limits.upper))
    }
}

/// Error rates of some runs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rates {
    /// Runs.
    pub runs: u64,
    /// Clear breaks found: a fall of at least [`CLEAR`] times the noise, no fault of the recording beside it.
    pub recall: Share,
    /// The same beside a fault of the recording.
    pub recall_beside: Share,
    /// Smaller breaks found.
    pub recall_small: Share,
    /// Found fractures that are breaks.
    pub precision: Share,
    /// Found fractures that are none.
    pub false_alarms: u64,
    /// Runs without a break in which one was found.
    pub false_runs: Share,
    /// Mean confidence of found fractures less the share of them that are breaks.
    pub overconfident: Option<f64>,
    /// Right outcomes.
    pub outcome: Share,
    /// Distance of the onset from the true one, samples: median and 95 %.
    pub error_samples: Option<(f64, f64)>,
    /// The same, s.
    pub error_s: Option<(f64, f64)>,
    /// Found onsets within three samples or 5 ms.
    pub in_time: Share,
    /// Intervals of the onset that hold the truth.
    pub inside: Share,
    /// Pressures that hold the truth within twice their standard uncertainty.
    pub pressure: Share,
}

/// A pressure is to lie within so many of its standard uncertainties: 95 % of a normal distribution.
pub(super) const COVERAGE: f64 = 2.0;
/// Onsets are to lie within so many samples ...
const IN_TIME_SAMPLES: f64 = 3.0;
/// ... or within this time, s.
const IN_TIME_S: f64 = 0.005;

impl Rates {
    /// Of these runs, and of their breaks that are of interest.
    pub fn of<'p>(
        runs: impl IntoIterator<Item = &'p Proven>,
        of_interest: impl Fn(&Break) -> bool,
    ) -> Self {
        let runs: Vec<&Proven> = runs.into_iter().collect();
        let breaks: Vec<&Break> = runs
            .iter()
            .flat_map(|run| &run.breaks)
            .filter(|b| !b.hidden && of_interest(b))
            .collect();
        let recall = |is: &dyn Fn(&Break) -> bool| {
            Share::of(breaks.iter().filter(|b| is(b)), |b| b.found.is_some())
        };
        let found: Vec<_> = breaks.iter().filter_map(|b| b.found).collect();
        let false_alarms: u64 = runs.iter().map(|run| run.false_alarms.len() as u64).sum();
        let all_found: u64 = runs
            .iter()
            .flat_map(|run| &run.breaks)
            .map(|b| u64::from(b.found.is_some()))
            .sum();
        Self {
            runs: runs.len() as u64,
            recall: recall(&|b| b.over_noise >= CLEAR && !b.beside_fault),
            recall_beside: recall(&|b| b.over_noise >= CLEAR && b.beside_fault),
            recall_small: recall(&|b| b.over_noise < CLEAR),
            precision: Share {
                some: all_found,
                all: all_found + false_alarms,
            },
            false_alarms,
            false_runs: Share::of(runs.iter().filter(|run| run.breaks.is_empty()), |run| {
                !run.false_alarms.is_empty()
            }),
            overconfident: overconfident(&runs),
            outcome: Share::of(&runs, |run| run.right),
            error_samples: median_and_95(found.iter().map(|f| f.error_samples.abs())),
            error_s: median_and_95(found.iter().map(|f| f.error_s.abs())),
            in_time: Share::of(&found, |f| {
                f.error_samples.abs() <= IN_TIME_SAMPLES || f.error_s.abs() <= IN_TIME_S
            }),
            inside: Share::of(&found, |f| f.inside),
            pressure: Share::of(
                found
                    .iter()
                    .filter_map(|f| f.pressure_error_kpa.zip(f.u_kpa)),
                |(error, u)| error.abs() <= COVERAGE * u,
            ),
        }
    }
}

/// Mean confidence of found fractures less the share of them that are breaks; none of none.
fn overconfident(runs: &[&Proven]) -> Option<f64> {
    let claims: Vec<(f64, bool)> = runs.iter().flat_map(|run| run.claims.clone()).collect();
    let n = claims.len() as f64;
    let confidence: f64 = claims.iter().map(|(confidence, _)| confidence).sum();
    let right = claims.iter().filter(|(_, right)| *right).count() as f64;
    (n > 0.0).then(|| (confidence - right) / n)
}

/// Median and 95 % quantile by rank; none of none.
fn median_and_95(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    let mut values: Vec<f64> = values.collect();
    values.sort_unstable_by(f64::total_cmp);
    let at = |share: f64| {
        let rank = (share * values.len() as f64).ceil() as usize;
        values.get(rank.saturating_sub(1)).copied()
    };
    at(0.5).zip(at(0.95))
}

/// Recall by fall over noise: lower and upper end of the class, and what was found of it. Every class is half as wide again as the one
/// before.
pub fn recall_by_size(runs: &[Proven]) -> Vec<(f64, f64, Share)> {
    let breaks: Vec<&Break> = runs
        .iter()
        .flat_map(|run| &run.breaks)
        .filter(|b| !b.hidden && !b.beside_fault)
        .collect();
    let mut classes = Vec::new();
    let mut from = 1.0;
    while from < 1000.0 {
        let to = 1.5 * from;
        let here = breaks.iter().filter(|b| (from..to).contains(&b.over_noise));
        let share = Share::of(here, |b| b.found.is_some());
        if share.all > 0 {
            classes.push((from, to, share));
        }
        from = to;
    }
    classes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_values_that_were_met() {
        let values = (1..=100).map(f64::from);
        assert_eq!(median_and_95(values), Some((50.0, 95.0)));
        assert_eq!(median_and_95([7.0].into_iter()), Some((7.0, 7.0)));
        assert_eq!(median_and_95(std::iter::empty()), None);
    }

    /// 8 of 15: 0.265861 to 0.787333 (exact limits, computed from the definition).
    #[test]
    fn limits_are_exact() {
        let share = Share::of(0..15, |n| *n < 8);
        let (lower, upper) = share.limits().unwrap_or_default();
        assert!((lower - 0.265_861).abs() < 1e-6 && (upper - 0.787_333).abs() < 1e-6);
        assert_eq!(Share::default().value(), None);
    }
}
