//! How many runs, of which so many may fail, show a reliability.

use super::refused;
use crate::recording::Finding;
use crate::stats::{demonstrated_reliability, sample_size};
use serde::Serialize;

/// Failures that every table goes up to.
const USUAL_FAILURES: u64 = 3;
/// Most failures planned for; beyond, the runs are better planned by a share than by a count.
pub const MOST_FAILURES: u64 = 100;

/// A plan by counting failures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Attribute {
    /// Confidence, above 0 and below 1.
    pub confidence: f64,
    /// Reliability to be shown, above 0 and below 1.
    pub reliability: f64,
    /// How the numbers were computed.
    pub method: &'static str,
    /// One row for each number of failures allowed.
    pub rows: Vec<AttributeRow>,
    /// What must hold.
    pub assumptions: Vec<&'static str>,
}

/// Runs needed where so many may fail.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AttributeRow {
    /// Failures allowed.
    pub failures: u64,
    /// Smallest number of runs; null where there is none.
    pub runs: Option<u64>,
    /// Reliability that so many runs with exactly these failures show by the classical limit.
    pub shown_reliability: Option<f64>,
    /// Why there is no number.
    pub reason: Option<String>,
}

/// The classical plan, or with `bayes` that of a uniform prior, for 0 up to `failures` (3 where none are named) failures.
///
/// Classical: the smallest n with binomial P(at most f of n; 1 − R) ≤ 1 − C (no failure: n = ⌈ln(1 − C)/ln R⌉, the success run). With a
/// uniform prior the reliability has after n runs the beta distribution (n − f + 1, f + 1), and P(reliability < R) = P(at most f of n + 1; 1
/// − R): exactly one run fewer, for every f.
///
/// # Errors
/// An error finding where a probability is none or there are more than [`MOST_FAILURES`].
pub fn attribute(
    confidence: f64,
    reliability: f64,
    failures: Option<u64>,
    bayes: bool,
) -> Result<Attribute, Finding> {
    let inside = |x: f64| x > 0.0 && x < 1.0;
    let most = failures.unwrap_or(USUAL_FAILURES);
    if !inside(confidence) || !inside(reliability) || most > MOST_FAILURES {
        return Err(refused(
            "plan-attribute",
            format!(
                "found confidence {confidence}, reliability {reliability}, {most} failures; expected shares above 0 and below 1 and at most {MOST_FAILURES} failures"
            ),
            "for 95 % write 0.95",
        ));
    }
    let mut assumptions = vec![
        "every run is a new item of the same kind and lot, passes or fails by a rule fixed before, and counts",
        "the number of failures allowed is fixed before the first run; adding runs after a failure is another plan",
        "runs are independent and alike: nothing is said of other lots, sizes, balloons or temperatures",
    ];
    if bayes {
        assumptions.push("every reliability from 0 to 1 was equally likely before the first run (the uniform prior saves one run; name it in the protocol)");
    }
    Ok(Attribute {
        confidence,
        reliability,
        method: if bayes {
            "Bayes, uniform prior: one run fewer than the classical number"
        } else {
            "classical: binomial, without failure the success run ln(1 - C)/ln R"
        },
        rows: (0..=most)
            .map(|f| row(confidence, reliability, f, bayes))
            .collect(),
        assumptions,
    })
}

fn row(confidence: f64, reliability: f64, failures: u64, bayes: bool) -> AttributeRow {
    let (runs, reason) = match sample_size(reliability, confidence, failures) {
        Ok(1) if bayes => (
            None,
            Some("the prior alone would do, which is no plan".to_owned()),
        ),
        Ok(runs) => (Some(runs - u64::from(bayes)), None),
        Err(error) => (None, Some(error.to_string())),
    };
    let shown = runs.and_then(|n| demonstrated_reliability(n, failures, confidence).ok());
    AttributeRow {
        failures,
        runs,
        shown_reliability: shown,
        reason,
    }
}
