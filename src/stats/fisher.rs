//! Two proportions in a table of two by two (Fisher 1934, Statistical Methods for Research Workers, 5th ed.).

use super::error::StatsError;

/// Most units in the table.
const MOST_UNITS: u64 = 1_000_000;
/// Tables whose probability is the same but for rounding count as equally unlikely.
const ROUNDING: f64 = 1e-7;

/// Result of Fisher's exact test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FisherExact {
    /// Probability, with all sums of the table held, of tables no more likely than the one seen (the probability rule).
    pub p: f64,
    /// Probability of a first group with at least as many events.
    pub p_greater: f64,
    /// Probability of a first group with at most as many events.
    pub p_less: f64,
    /// Odds ratio of the sample, `a (n2 - c)/((n1 - a) c)`; `None` where it is 0/0 or infinite.
    pub odds_ratio: Option<f64>,
}

/// Compares `a` events of `n1` with `c` of `n2`. Exact for any counts; conservative for small ones.
pub fn fisher_exact((a, n1): (u64, u64), (c, n2): (u64, u64)) -> Result<FisherExact, StatsError> {
    for (events, n) in [(a, n1), (c, n2)] {
        if n == 0 {
            return Err(StatsError::TooFew {
                what: "units in a group",
                needed: 1,
                found: 0,
            });
        }
        if events > n {
            return Err(StatsError::OutOfRange {
                what: "the number of events",
                range: "at most the number of units",
                found: events as f64,
            });
        }
    }
    let all = n1.saturating_add(n2);
    if all > MOST_UNITS {
        return Err(StatsError::OutOfRange {
            what: "the number of units",
            range: "at most 1000000",
            found: all as f64,
        });
    }
    let events = a + c;
    let least = events.saturating_sub(n2);
    let table = hypergeometric(n1, n2, events);
    let at = (a - least) as usize;
    let seen = table.get(at).copied().unwrap_or(f64::NAN);
    let sum = |part: &[f64]| part.iter().sum::<f64>().min(1.0);
    let (below, above) = table.split_at(at.min(table.len()));
    let odds = (a as f64 * (n2 - c) as f64) / ((n1 - a) as f64 * c as f64);
    Ok(FisherExact {
        p: table
            .iter()
            .filter(|p| **p <= seen * (1.0 + ROUNDING))
            .sum::<f64>()
            .min(1.0),
        p_greater: sum(above),
        p_less: (sum(below) + seen).min(1.0),
        odds_ratio: odds.is_finite().then_some(odds),
    })
}

/// Probabilities of `max(0, events - n2) ..= min(n1, events)` events in the first group: ratios of neighbours from the most likely
/// number outwards, so that none of the numbers is large.
pub(super) fn hypergeometric(n1: u64, n2: u64, events: u64) -> Vec<f64> {
    let (least, most) = (events.saturating_sub(n2), n1.min(events));
    // The mode, (events + 1)(n1 + 1)/(n + 2), rounded down.
    let mode = ((events + 1) * (n1 + 1) / (n1 + n2 + 2)).clamp(least, most);
    let mut weights = vec![0.0; (most - least + 1) as usize];
    let (mut up, mut down) = (1.0, 1.0);
    for x in mode..=most {
        if let Some(slot) = weights.get_mut((x - least) as usize) {
            *slot = up;
        }
        up *= (n1 - x) as f64 * (events - x) as f64
            / ((x + 1) as f64 * ((n2 + x + 1) as f64 - events as f64));
    }
    for x in (least..=mode).rev() {
        if let Some(slot) = weights.get_mut((x - least) as usize) {
            *slot = down;
        }
        down *= x as f64 * (n2 as f64 + x as f64 - events as f64)
            / ((n1 - x + 1) as f64 * (events - x + 1) as f64);
    }
    let all: f64 = weights.iter().sum();
    weights.into_iter().map(|w| w / all).collect()
}
