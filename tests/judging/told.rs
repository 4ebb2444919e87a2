//! Every verdict says how it was decided, and how many further runs would decide it or why no number is known.

use super::{ATM, MOULDED, arm, in_kpa, none, protocol, quantity, run, with_diameters};
use hooptrace::judge::{RULES, groups, verdicts};
use hooptrace::recording::{Outcome, RunResult, StepResult, StepVerdict, Verdict};
use hooptrace::rig::{Series, Settings};
use std::collections::BTreeSet;

/// A criterion of every rule.
const CRITERIA: &[(&str, &str)] = &[
    ("fractured_share", "at_least = 0.9"),
    ("fracture_pressure_below", "limit_atm = 16\ncoverage = 0.9"),
    ("set_at_least", "at_least = 0.05"),
    ("diameter_after_at_least", "at_least_mm = 21"),
    ("no_event", "at_most = 0.1"),
    (
        "tolerance",
        "quantity = \"diameters.after\"\nat_least_mm = 21\ncoverage = 0.9",
    ),
    (
        "each_within",
        "quantity = \"diameters.after\"\nat_least_mm = 21\nallowed_failures = 0\nreliability = 0.9",
    ),
    (
        "each_within",
        "quantity = \"observations.leaflet grade\"\nat_most = \"mild\"\nallowed_failures = 0\nreliability = 0.9",
    ),
    ("mean", "quantity = \"diameters.after\"\nat_least_mm = 21"),
];

fn deviated(mut made: RunResult) -> RunResult {
    made.adherence = vec![StepResult {
        step: "strokes".to_owned(),
        number: 1,
        asked: "at most 3 strokes".to_owned(),
        found: none("1"),
        deviation: None,
        when_s: None,
        verdict: StepVerdict::Deviated,
        reason: "made for a test".to_owned(),
    }];
    made
}

/// Studies from none to a dozen runs, with and without values, broken and whole, frames used twice, runs that deviated, no scatter.
fn studies() -> Vec<(&'static str, Vec<RunResult>)> {
    let measured = |runs: Vec<RunResult>, step: f64| -> Vec<RunResult> {
        let all = runs.into_iter().enumerate();
        all.map(|(i, made)| {
            with_diameters(
                made,
                0.08 + 0.01 * step * i as f64,
                21.2 + step * i as f64,
                0.2,
            )
        })
        .collect()
    };
    let small = || arm("a", &in_kpa(&MOULDED[..4]), &[]);
    let large = || arm("a", &in_kpa(&MOULDED), &[12.0 * ATM; 2]);
    let mut again = measured(large(), 0.1);
    let twice = again[0].frame_id.clone();
    again[1].frame_id = twice;
    let mut unsure = measured(large(), 0.1);
    for made in &mut unsure {
        if let Some(diameters) = &mut made.diameters {
            diameters.after.u = None;
        }
    }
    vec![
        ("empty", Vec::new()),
        ("one run", vec![run("r", "a", Outcome::Stretched, 900.0)]),
        ("no pressure", {
            let mut made = run("r", "a", Outcome::Fractured, f64::NAN);
            made.highest_pressure = none("kPa");
            vec![made]
        }),
        ("bursts", vec![run("r", "a", Outcome::Burst, 900.0); 3]),
        ("bare", small()),
        ("small", measured(small(), 0.1)),
        ("no scatter", measured(small(), 0.0)),
        ("falling short", measured(small(), -0.3)),
        ("large", measured(large(), 0.1)),
        ("no uncertainty", unsure),
        ("frame again", again),
        (
            "all deviated",
            measured(small(), 0.1).into_iter().map(deviated).collect(),
        ),
        ("wide", {
            let mut runs = measured(large(), 0.1);
            if let Some(diameters) = &mut runs[11].diameters {
                diameters.after = quantity(40.0, "mm");
            }
            runs
        }),
    ]
}

#[test]
fn every_verdict_has_its_rule_and_its_further_runs_or_the_reason_for_none() {
    let rules: BTreeSet<&str> = RULES.iter().map(|rule| rule.name()).collect();
    let tried: BTreeSet<&str> = CRITERIA.iter().map(|(rule, _)| *rule).collect();
    assert_eq!(rules, tried, "a criterion of every rule");
    let mut seen: BTreeSet<String> = BTreeSet::new();
    for (study, runs) in studies() {
        let groups = groups(&runs, &Series::default(), &Settings::default());
        for (rule, keys) in CRITERIA {
            for more in [
                "",
                "only_adherent = true\n",
                "decision_rule = \"guarded\"\n",
                "arm = \"nobody\"\n",
            ] {
                let text =
                    format!("[[criterion]]\nrule = \"{rule}\"\n{keys}\nconfidence = 0.95\n{more}");
                let found = verdicts(&protocol(&text), &runs, &Series::default(), &groups);
                assert!(!found.is_empty(), "{study}: {text}");
                for verdict in found {
                    complete(&verdict, &format!("{study}: {text}"));
                    seen.insert(verdict.verdict);
                }
            }
        }
    }
    assert_eq!(seen.len(), 3, "{seen:?}");
}

#[track_caller]
fn complete(verdict: &Verdict, of: &str) {
    assert!(
        verdict.decision_rule.contains("acceptance"),
        "{of}: {verdict:#?}"
    );
    let said = verdict
        .more_runs_reason
        .as_ref()
        .is_some_and(|why| !why.trim().is_empty());
    match verdict.verdict.as_str() {
        // What is decided needs no further runs.
        "pass" | "fail" => assert_eq!(verdict.more_runs, Some(0), "{of}: {verdict:#?}"),
        _ => assert!(said, "{of}: {verdict:#?}"),
    }
    assert!(
        !verdict.reason.is_empty() && !verdict.asks.is_empty(),
        "{of}: {verdict:#?}"
    );
}
