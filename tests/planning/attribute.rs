//! Numbers of runs by counting failures.

use super::support::run;
use hooptrace::plan::{MOST_FAILURES, attribute};
use std::path::Path;

fn runs(confidence: f64, reliability: f64, bayes: bool) -> Vec<u64> {
    let plan = attribute(confidence, reliability, None, bayes).unwrap();
    plan.rows.iter().map(|row| row.runs.unwrap()).collect()
}

/// Success-run numbers as every textbook prints them, and the smallest n of the cumulative binomial for one to three failures (sums at
/// 40 digits: `tests/data/stats/success_run.csv`).
#[test]
fn the_classical_numbers() {
    assert_eq!(runs(0.95, 0.95, false), [59, 93, 124, 153]);
    assert_eq!(runs(0.95, 0.9, false), [29, 46, 61, 76]);
    assert_eq!(runs(0.9, 0.9, false), [22, 38, 52, 65]);
    // The table goes up to the failures asked for.
    let two = attribute(0.95, 0.95, Some(1), false).unwrap();
    assert_eq!(two.rows.len(), 2);
    let plan = attribute(0.95, 0.999, None, false).unwrap();
    assert_eq!(plan.rows[0].runs, Some(2995));
    // scipy 1.17.1: binom.cdf(f, n, 0.001) is at most 0.05 first at these n.
    assert_eq!(runs(0.95, 0.999, false), [2995, 4742, 6294, 7752]);
}

/// Uniform prior, no failure: R^(n + 1) = 1 - C, so 58, 28 and 298 (printed beside the classical 59, 29 and 299). With failures the
/// posterior is the beta distribution (n - f + 1, f + 1); by scipy 1.17.1, `beta.cdf(R, n - f + 1, f + 1)` is at most 1 - C first at 92, 123,
/// 152 for 95/95.
#[test]
fn the_uniform_prior_saves_one_run_and_is_named() {
    assert_eq!(runs(0.95, 0.95, true), [58, 92, 123, 152]);
    assert_eq!(runs(0.95, 0.9, true)[0], 28);
    assert_eq!(runs(0.95, 0.99, true)[0], 298);
    let plan = attribute(0.95, 0.9, None, true).unwrap();
    assert!(plan.method.contains("Bayes") && plan.assumptions.iter().any(|a| a.contains("prior")));
    let plan = attribute(0.95, 0.9, None, false).unwrap();
    assert!(
        plan.method.contains("classical") && !plan.assumptions.iter().any(|a| a.contains("prior"))
    );
    // A prior that alone would do is no plan.
    assert_eq!(attribute(0.5, 0.3, None, true).unwrap().rows[0].runs, None);
}

#[test]
fn what_cannot_be_planned_is_told() {
    assert!(attribute(1.0, 0.9, None, false).is_err());
    assert!(attribute(0.95, f64::NAN, None, false).is_err());
    assert!(attribute(0.95, 0.9, Some(MOST_FAILURES + 1), false).is_err());
    // Far more runs than the binomial is computed for: no number, and a reason.
    let plan = attribute(0.95, 0.9999, Some(5), false).unwrap();
    assert_eq!(plan.rows.len(), 6);
    assert_eq!(plan.rows[0].runs, Some(29956));
    assert!(plan.rows[1].runs.is_none() && plan.rows[1].reason.is_some());
}

#[test]
fn the_program_prints_the_table_and_refuses_percent() {
    let here = Path::new(".");
    let words = [
        "plan",
        "attribute",
        "--confidence",
        "0.95",
        "--reliability",
        "0.95",
    ];
    let (status, told, _) = run(here, &words);
    assert_eq!(status, 0);
    for words in ["59", "93", "124", "153", "classical", "assumed:"] {
        assert!(told.contains(words), "{told}");
    }
    let json = run(here, &[&words as &[&str], &["--bayes", "--json"]].concat()).1;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["rows"][0]["runs"], 58);
    let (status, _, complaint) = run(
        here,
        &[
            "plan",
            "attribute",
            "--confidence",
            "95",
            "--reliability",
            "0.9",
        ],
    );
    assert_eq!(status, 2);
    assert!(
        complaint.contains("95") && complaint.contains("write 0.95"),
        "{complaint}"
    );
}
