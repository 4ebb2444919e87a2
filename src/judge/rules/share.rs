//! What the rules on shares have in common.

use crate::stats::sample_size;

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

/// How many more runs, all good, show the `reliability` with `confidence` if `bad` of `n` were not good so far.
pub(super) fn more_needed(n: usize, bad: usize, reliability: f64, confidence: f64) -> String {
    match sample_size(reliability, confidence, bad as u64) {
        Ok(needed) => {
            let failures = match bad {
                0 => "no failure".to_owned(),
                1 => "at most 1 failure".to_owned(),
                more => format!("at most {more} failures"),
            };
            let more = needed.saturating_sub(n as u64);
            format!("{needed} runs with {failures} would do: {more} more, none of them a failure")
        }
        Err(error) => format!("the number of runs needed is not known: {error}"),
    }
}
