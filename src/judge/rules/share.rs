//! What the rules on shares have in common.

use crate::recording::{Interval, VerdictLimit};
use crate::stats::{binomial_lower, sample_size};

/// Room for rounding where a limit is compared with the share asked for: success-run numbers come out exact (R = 0.5, C = 0.75: two runs).
pub(super) const ROUNDING: f64 = 1e-12;

/// A share as reasons print it: four decimals, or as many as it takes not to look equal to the share `asked`.
pub(super) fn share(value: f64, asked: f64) -> String {
    for decimals in 4..9 {
        let text = format!("{value:.decimals$}");
        let same = text.parse::<f64>().is_ok_and(|t| t == asked);
        if !same || value == asked {
            return text;
        }
    }
    format!("{value}")
}

/// How many more runs, all good, show the `reliability` with `confidence` if `bad` of `n` were not good so far, with the words for it.
pub(super) fn more_needed(
    n: usize,
    bad: usize,
    reliability: f64,
    confidence: f64,
) -> Result<(u64, String), String> {
    match sample_size(reliability, confidence, bad as u64) {
        Ok(needed) => {
            let failures = match bad {
                0 => "no failure".to_owned(),
                1 => "at most 1 failure".to_owned(),
                more => format!("at most {more} failures"),
            };
            let more = needed.saturating_sub(n as u64);
            Ok((
                more,
                format!(
                    "{needed} runs with {failures} would do: {more} more, none of them a failure"
                ),
            ))
        }
        Err(error) => Err(format!("the number of runs needed is not known: {error}")),
    }
}

/// Most runs looked at.
const MOST_RUNS: usize = 10_000;

/// Runs at which more than the share `allowed` would be shown to be bad if `bad` of every `n` stayed bad.
pub(super) fn runs_to_fail(
    bad: usize,
    n: usize,
    allowed: f64,
    confidence: f64,
) -> Result<u64, String> {
    let share = bad as f64 / n.max(1) as f64;
    let shown = |runs: &usize| {
        let bad = (share * *runs as f64 + ROUNDING).floor() as u64;
        binomial_lower(bad, *runs as u64, confidence).is_ok_and(|lower| lower > allowed)
    };
    let found = (n..=MOST_RUNS).find(shown);
    found.map_or_else(
        || Err(format!("more than {MOST_RUNS} runs with this share")),
        |runs| Ok(runs as u64),
    )
}

/// Words of [`more_needed`], either way.
pub(super) fn more_words(more: &Result<(u64, String), String>) -> &str {
    match more {
        Ok((_, words)) | Err(words) => words,
    }
}

/// A share with its one-sided exact limit.
pub(super) fn share_estimate(
    value: f64,
    (lower, upper): (Option<f64>, Option<f64>),
    confidence: f64,
) -> Interval {
    Interval {
        value: Some(value),
        lower,
        upper,
        confidence,
        unit: "1".to_owned(),
        method: "share of the runs; one-sided exact limit (Clopper-Pearson)".to_owned(),
    }
}

/// The share asked for.
pub(super) fn share_limit(side: &str, value: f64) -> VerdictLimit {
    VerdictLimit {
        side: side.to_owned(),
        value: Some(value),
        unit: "1".to_owned(),
        written: value.to_string(),
    }
}
