//! Criteria on any quantity of the results: tolerance, every run by itself, mean; and how uncertainty counts.

use super::arms::DIFFERENCES;
use super::{MOULDED, fractured, judged, one_verdict, printed, with_diameters};
use hooptrace::judge::{protocol_from_text, unseen_observations};
use hooptrace::read::tables_from_bytes;
use hooptrace::recording::{RunResult, Severity, Verdict};

/// Runs with these diameters after, mm; each has a relative standard uncertainty of 0.001.
fn after(values: &[f64]) -> Vec<RunResult> {
    let runs = values.iter().enumerate();
    runs.map(|(i, d)| with_diameters(fractured(&format!("r{i}"), "a", 900.0), 0.1, *d, 0.2))
        .collect()
}

fn tolerance(limit: &str) -> String {
    format!(
        "[[criterion]]\nrule = \"tolerance\"\nquantity = \"diameters.after\"\n{limit}\ncoverage = 0.95\nconfidence = 0.95\n"
    )
}

fn each(limit: &str, allowed: usize) -> String {
    format!(
        "[[criterion]]\nrule = \"each_within\"\nquantity = \"diameters.after\"\n{limit}\nallowed_failures = {allowed}\nreliability = 0.95\nconfidence = 0.95\n"
    )
}

#[track_caller]
fn one(text: &str, runs: &[RunResult], expected: &str) -> Verdict {
    one_verdict(text, runs, expected);
    judged(text, runs).remove(0)
}

/// Mean 9.39, s 0.458136 (by hand). Exact one-sided 95/95 factor of ten values 2.9110 (printed tables of ISO 16269-6): upper limit 10.72362, of the
/// logarithms 10.80119; the lower limit is 9.39 - 2.9110 · 0.458136 = 8.05637; the 95 % quantile 9.39 + 1.644854 · 0.458136 = 10.14357.
#[test]
fn tolerance_on_either_side() {
    let runs = after(&MOULDED);
    let verdict = one(&tolerance("at_most_mm = 10.7237"), &runs, "pass");
    assert_eq!((verdict.n, verdict.more_runs), (10, Some(0)));
    assert!(
        verdict.reason.contains("Shapiro-Wilk"),
        "{}",
        verdict.reason
    );
    assert!(verdict.decision_rule.starts_with("simple acceptance"));
    assert_eq!(
        verdict.asks,
        "diameters.after of at least 95 % of all such frames is at most 10.7237 mm, with 95 % confidence"
    );
    let estimate = verdict.estimate.unwrap();
    printed(estimate.upper.unwrap(), 10.72362, 5);
    printed(estimate.value.unwrap(), 10.14357, 5);
    assert_eq!(estimate.lower, None);
    one(&tolerance("at_most_mm = 10.7236"), &runs, "undecided");
    // The same limit in another unit of length.
    one(&tolerance("at_most_cm = 1.07237"), &runs, "pass");
    one(&tolerance("at_most_cm = 1.07236"), &runs, "undecided");
    one(
        &tolerance("at_most_mm = 10.8012\nscale = \"log\""),
        &runs,
        "pass",
    );
    one(
        &tolerance("at_most_mm = 10.8011\nscale = \"log\""),
        &runs,
        "undecided",
    );
    one(&tolerance("at_least_mm = 8.056"), &runs, "pass");
    one(&tolerance("at_least_mm = 8.057"), &runs, "undecided");
    // The estimate itself is beyond, and with k = 1.0172988 (scipy 1.17.1, nct.ppf(0.05, 9, z sqrt(10)) / sqrt(10)) its lower limit 9.856061 mm.
    one(&tolerance("at_most_mm = 10.14"), &runs, "undecided");
    one(&tolerance("at_most_mm = 9.8561"), &runs, "undecided");
    one(&tolerance("at_most_mm = 9.8560"), &runs, "fail");
    let verdict = one(&tolerance("at_most_mm = 10.14"), &runs, "undecided");
    assert_eq!(
        verdict.failing_runs,
        ["r3"],
        "10.2 mm is the only one beyond"
    );
    one(&tolerance("at_most_mm = 10.15"), &runs, "undecided");
    one(&tolerance("at_most_mm = 20"), &runs[..2], "undecided");
}

/// Margin (10.4895 - 9.39) / 0.458136 = 2.39994: printed factors are 2.423 for 19 and 2.3960 for 20 values, so 20 would do, ten more.
#[test]
fn tolerance_says_how_many_more() {
    let runs = after(&MOULDED);
    let verdict = one(&tolerance("at_most_mm = 10.4895"), &runs, "undecided");
    assert_eq!(verdict.more_runs, Some(10), "{verdict:?}");
    assert!(
        verdict
            .more_runs_reason
            .unwrap()
            .contains("20 runs would do")
    );
}

/// Largest u = 0.0102 mm (of 10.2 mm), guard band 1.645 · 0.0102 = 0.016779 mm: 10.72362 + 0.01678 = 10.74040 mm.
#[test]
fn a_guard_band_moves_the_limit_inwards() {
    let runs = after(&MOULDED);
    let guarded = |limit: &str| format!("decision_rule = \"guarded\"\n{}", tolerance(limit));
    let verdict = one(&guarded("at_most_mm = 10.7405"), &runs, "pass");
    assert!(
        verdict.decision_rule.contains("guarded acceptance")
            && verdict.decision_rule.contains("0.016779 mm"),
        "{}",
        verdict.decision_rule
    );
    one(&guarded("at_most_mm = 10.7403"), &runs, "undecided");
    // 9.39 - 2.9110 · 0.458136 - 0.01678 = 8.03959 mm on the other side.
    one(&guarded("at_least_mm = 8.0395"), &runs, "pass");
    one(&guarded("at_least_mm = 8.0397"), &runs, "undecided");
    // A criterion may differ from the file, and the factor may be another: 3 · 0.0102 = 0.0306 mm.
    let own = tolerance("at_most_mm = 10.7543\ndecision_rule = \"guarded\"\nguard_factor = 3");
    one(&own, &runs, "pass");
    one(&own.replace("10.7543", "10.7541"), &runs, "undecided");
    // Without an uncertainty nothing can be accepted.
    let mut unknown = runs;
    unknown[4].diameters.as_mut().unwrap().after.u = None;
    let verdict = one(&guarded("at_most_mm = 20"), &unknown, "undecided");
    assert!(verdict.reason.contains("r4 has none"), "{}", verdict.reason);
    assert_eq!(verdict.more_runs, None);
}

#[test]
fn normality_doubted_withholds_the_pass() {
    // One far out of ten alike: the normal limit passes, but nobody should believe it.
    let mut values = [9.0, 9.1, 9.0, 9.1, 9.2, 9.0, 9.1, 9.0, 9.1, 12.0].to_vec();
    let verdict = one(&tolerance("at_most_mm = 20"), &after(&values), "undecided");
    assert!(
        verdict.reason.contains("normality is doubted"),
        "{}",
        verdict.reason
    );
    // Of 59 values the greatest is the 95/95 limit of any distribution (0.95^59 = 0.0485).
    while values.len() < 59 {
        values.push(9.0 + 0.1 * (values.len() % 2) as f64);
    }
    let verdict = one(&tolerance("at_most_mm = 20"), &after(&values), "pass");
    assert!(
        verdict.reason.contains("without a distribution, 12 mm"),
        "{}",
        verdict.reason
    );
}

/// Of ten values there is no 95/95 limit without a distribution: 59 are needed (0.95^59 = 0.0485), so 49 more.
#[test]
fn too_few_for_a_limit_without_a_distribution_says_how_many() {
    let values = [9.0, 9.1, 9.0, 9.1, 9.2, 9.0, 9.1, 9.0, 9.1, 12.0];
    let verdict = one(&tolerance("at_most_mm = 20"), &after(&values), "undecided");
    assert_eq!(verdict.more_runs, Some(49));
}

/// A single value far out on the good side widens the normal limit beyond the other side; no value lies there. Only where a count of them
/// says so is it a fail: of 20 values 10 on the good side at most 0.6980 are (exact binomial, 0.95), which is below 0.95.
#[test]
fn a_normal_limit_of_what_is_not_normal_fails_nobody() {
    let mut values: Vec<f64> = (0..40).map(|i| 4.0 + 0.01 * f64::from(i % 7)).collect();
    values.push(40.0);
    let verdict = one(&tolerance("at_least_mm = 3"), &after(&values), "undecided");
    assert!(verdict.reason.contains("41 of 41"), "{}", verdict.reason);
    let halves: Vec<f64> = (0..20).map(|i| if i < 10 { 4.0 } else { 1.0 }).collect();
    let verdict = one(&tolerance("at_least_mm = 3"), &after(&halves), "fail");
    assert!(verdict.reason.contains("69.8"), "{}", verdict.reason);
}

/// Readings that average 21.43 mm in another order differ in the last bit: none of them is beyond 21.43 mm.
#[test]
fn the_last_bit_of_a_mean_decides_nothing() {
    let means = [
        (21.61 + 21.41 + 21.43 + 21.27) / 4.0,
        21.43,
        21.43 + 3.6e-15,
        21.43 - 3.6e-15,
    ];
    assert!(means.iter().any(|m| *m < 21.43) && means.iter().any(|m| *m > 21.43));
    let values: Vec<f64> = (0..60).map(|i| means[i % 4]).collect();
    one(&each("at_least_mm = 21.43", 0), &after(&values), "pass");
    one(&each("at_most_mm = 21.43", 0), &after(&values), "pass");
    let mean = "[[criterion]]\nrule = \"mean\"\nquantity = \"diameters.after\"\nat_least_mm = 21.43\nconfidence = 0.95\n";
    let verdict = one(mean, &after(&values), "undecided");
    assert!(
        verdict.reason.contains("do not differ"),
        "{}",
        verdict.reason
    );
}

/// Success-run numbers: 59 without failure, 93 with one (cumulative binomial, printed tables).
#[test]
fn every_run_by_itself() {
    let runs = |good: usize, bad: usize| {
        let values = [vec![21.0; good], vec![19.0; bad]].concat();
        after(&values)
    };
    let limit = "at_least_mm = 20";
    let verdict = one(&each(limit, 0), &runs(59, 0), "pass");
    // 0.05^(1/59) = 0.950492.
    printed(verdict.estimate.unwrap().lower.unwrap(), 0.950492, 6);
    let verdict = one(&each(limit, 0), &runs(58, 0), "undecided");
    assert_eq!(verdict.more_runs, Some(1));
    assert_eq!(
        verdict.more_runs_reason.as_deref(),
        Some("if none of them fails")
    );
    let verdict = one(&each(limit, 0), &runs(58, 1), "fail");
    assert_eq!(verdict.failing_runs, ["r58"]);
    one(&each(limit, 1), &runs(92, 1), "pass");
    let verdict = one(&each(limit, 1), &runs(91, 1), "undecided");
    assert_eq!(verdict.more_runs, Some(1));
    one(&each(limit, 1), &runs(91, 2), "fail");
    // The plan with one failure takes 93 runs, also where none came: stopping at 59 would be another plan.
    let verdict = one(&each(limit, 1), &runs(60, 0), "undecided");
    assert_eq!(verdict.more_runs, Some(33));
    assert!(verdict.more_runs_reason.unwrap().contains("no more than 1"));
    one(&each(limit, 1), &runs(93, 0), "pass");
    // Fewer runs than failures allowed.
    let verdict = one(&each(limit, 3), &runs(2, 0), "undecided");
    assert!(verdict.more_runs.unwrap() > 100);
    // The other side.
    one(&each("at_most_mm = 20", 0), &runs(0, 59), "pass");
    // Runs without a value are named.
    let mut some = runs(59, 0);
    some.push(fractured("bare", "a", 900.0));
    let verdict = one(&each(limit, 0), &some, "pass");
    assert!(
        verdict
            .reason
            .contains("1 run without a value left out: bare"),
        "{}",
        verdict.reason
    );
}

/// 20.03 mm with u = 0.02003 mm stands 0.03 mm inside the limit and less than w = 1.645 · 0.02003 = 0.03295 mm: neither accepted nor
/// rejected. 20.04 mm stands 0.04 mm inside (w = 0.03297 mm): accepted.
#[test]
fn every_run_is_guarded_by_its_own_uncertainty() {
    let guarded = each("at_least_mm = 20\ndecision_rule = \"guarded\"", 0);
    let mut values = vec![20.04; 59];
    one(&guarded, &after(&values), "pass");
    values[7] = 20.03;
    one(&each("at_least_mm = 20", 0), &after(&values), "pass");
    let verdict = one(&guarded, &after(&values), "undecided");
    assert!(
        verdict
            .reason
            .contains("within the guard band, or without an uncertainty: r7")
    );
    assert_eq!(verdict.more_runs, None);
    // With a failure allowed it may be that one; the plan then takes 93.
    let one_allowed = guarded.replace("allowed_failures = 0", "allowed_failures = 1");
    assert_eq!(
        one(&one_allowed, &after(&values), "undecided").more_runs,
        Some(34)
    );
    // That one is used up by the guarded value.
    let verdict = one(&one_allowed, &after(&values), "undecided");
    assert_eq!(
        verdict.more_runs_reason.as_deref(),
        Some("if none of them fails")
    );
    values[7] = 19.99;
    assert_eq!(one(&guarded, &after(&values), "fail").failing_runs, ["r7"]);
}

/// Mean 0.102, s 0.0571159, limits of the two-sided 95 % t-interval 0.061142 and 0.142858 (published set of differences).
#[test]
fn a_mean_on_either_side() {
    let runs: Vec<RunResult> = DIFFERENCES
        .iter()
        .enumerate()
        .map(|(i, d)| with_diameters(fractured(&format!("r{i}"), "a", 900.0), *d, 20.0, 0.1))
        .collect();
    let mean = |limit: &str| {
        format!(
            "[[criterion]]\nrule = \"mean\"\nquantity = \"diameters.set_ratio\"\n{limit}\nconfidence = 0.975\n"
        )
    };
    one(&mean("at_least = 0.0611"), &runs, "pass");
    let verdict = one(&mean("at_least = 0.0612"), &runs, "undecided");
    // t(0.975; 10) = 2.228139: 2.228139 · 0.0571159 / √11 = 0.03837 < 0.102 - 0.0612 = 0.0408; with ten 2.262157 / √10 · 0.0571159 = 0.04086.
    assert_eq!(verdict.more_runs, Some(1));
    let verdict = one(&mean("at_most = 0.1429"), &runs, "pass");
    printed(verdict.estimate.unwrap().upper.unwrap(), 0.142858, 6);
    one(&mean("at_most = 0.1428"), &runs, "undecided");
    one(&mean("at_most = 0.1019"), &runs, "undecided");
    one(&mean("at_most = 0.0612"), &runs, "undecided");
    one(&mean("at_most = 0.0611"), &runs, "fail");
    one(&mean("at_least = 0.1428"), &runs, "undecided");
    one(&mean("at_least = 0.1429"), &runs, "fail");
}

/// Sixty runs with rows of `observations.csv`; `row` makes those of run k.
fn with_rows(row: impl Fn(usize) -> String) -> Vec<RunResult> {
    let mut runs = after(&[21.0; 60]);
    let listed = runs
        .iter()
        .fold(String::new(), |text, run| text + &run.run_id + ",frame\n");
    let rows: String = (0..60).map(row).collect();
    let files = [
        ("runs.csv", format!("run_id,kind\n{listed}")),
        (
            "observations.csv",
            format!("run_id,stage,what,value,unit,u\n{rows}"),
        ),
    ]
    .map(|(name, text)| (name.to_owned(), text.into_bytes()));
    let (tables, _, _) = tables_from_bytes(&files, None).unwrap();
    for run in &mut runs {
        let own = tables.observations.iter();
        run.observations = own.filter(|o| o.run_id == run.run_id).cloned().collect();
    }
    runs
}

fn seen(what: &str, limit: &str) -> String {
    each(limit, 0).replace("diameters.after", &format!("observations.{what}"))
}

#[test]
fn limits_on_what_was_seen() {
    let clearance = with_rows(|k| {
        format!(
            "r{k},after,wall clearance,{},mm,0.1\n",
            4.0 + 0.1 * k as f64
        )
    });
    one(
        &seen("wall clearance", "at_least_mm = 4"),
        &clearance,
        "pass",
    );
    let verdict = one(
        &seen("wall clearance", "at_least_mm = 4.05"),
        &clearance,
        "fail",
    );
    assert_eq!(verdict.failing_runs, ["r0"]);
    one(
        &seen("after.Wall_clearance", "at_least_um = 4000"),
        &clearance,
        "pass",
    );
    // Within 1.645 · 0.1 mm of the limit: r0 and r1.
    let guarded = seen(
        "wall clearance",
        "at_least_mm = 4\ndecision_rule = \"guarded\"",
    );
    let verdict = one(&guarded, &clearance, "undecided");
    assert!(verdict.reason.contains("r0, r1"), "{}", verdict.reason);
    // Another kind of unit, or none: nothing is guessed.
    let verdict = one(
        &seen("wall clearance", "at_least_kpa = 4"),
        &clearance,
        "undecided",
    );
    assert!(verdict.reason.contains("in mm"), "{}", verdict.reason);
    one(
        &seen("wall clearance", "at_least = 4"),
        &clearance,
        "undecided",
    );
    one(
        &seen("before.wall clearance", "at_least_mm = 4"),
        &clearance,
        "undecided",
    );
    let tol =
        tolerance("at_least_mm = 0.5").replace("diameters.after", "observations.wall clearance");
    one(&tol, &clearance, "pass");

    let words = with_rows(|k| {
        format!(
            "r{k},after,leaflet grade,{},,\n",
            ["none", "trace", "mild"][k % 3]
        )
    });
    one(&seen("leaflet grade", "at_most = \"mild\""), &words, "pass");
    // Another word for a trace: mild is beyond it.
    one(
        &seen("leaflet grade", "at_most = \"minimal\""),
        &words,
        "fail",
    );
    assert_eq!(
        one(
            &seen("leaflet grade", "at_most = \"trace\""),
            &words,
            "fail"
        )
        .failing_runs
        .len(),
        20
    );
    // Nobody said which number is which word.
    let verdict = one(&seen("leaflet grade", "at_most = 2"), &words, "undecided");
    assert!(
        verdict.reason.contains("different scales"),
        "{}",
        verdict.reason
    );
    let numbers = with_rows(|k| format!("r{k},after,leaflet grade,{},grade,\n", k % 2));
    one(&seen("leaflet grade", "at_most = 1"), &numbers, "pass");
    one(&seen("leaflet grade", "at_most = 0"), &numbers, "fail");
    let tol = tolerance("at_most = 1").replace("diameters.after", "observations.leaflet grade");
    assert!(
        one(&tol, &numbers, "undecided")
            .reason
            .contains("each_within")
    );

    let debris = with_rows(|k| {
        format!(
            "r{k},after,captured debris,{},,\n",
            if k == 9 { "yes" } else { "no" }
        )
    });
    let verdict = one(&seen("captured debris", "is = \"no\""), &debris, "fail");
    assert_eq!(verdict.failing_runs, ["r9"]);
    let pieces = with_rows(|k| format!("r{k},after,captured debris,{},count,\n", k % 4));
    one(&seen("captured debris", "at_most = 3"), &pieces, "pass");
    one(
        &seen("captured debris", "at_most_count = 3"),
        &pieces,
        "pass",
    );
    one(
        &seen("captured debris", "at_most_count = 2"),
        &pieces,
        "fail",
    );
    one(
        &seen("captured debris", "is = \"no\""),
        &pieces,
        "undecided",
    );
}

/// A misspelt observation is an error at its line, with what is there; one that nobody looked at a doubt.
#[test]
fn an_observation_that_no_run_has_is_told() {
    let runs = with_rows(|k| format!("r{k},after,wall clearance,4.2,mm,0.1\n"));
    let told = |what: &str| {
        let text = format!("title = \"t\"\n{}", seen(what, "at_least_mm = 4"));
        let protocol = protocol_from_text(&text, "protocol.toml").unwrap();
        unseen_observations(&protocol, &runs)
    };
    assert!(told("after.Wall_clearance").is_empty());
    let [near] = &told("wall clearence")[..] else {
        panic!("one finding")
    };
    assert_eq!(
        (near.severity, near.file.as_deref(), near.line),
        (Severity::Error, Some("protocol.toml"), Some(2))
    );
    assert!(
        near.message.contains("expected one of wall clearance"),
        "{near}"
    );
    assert!(
        near.help.as_ref().unwrap().contains("did you mean"),
        "{near}"
    );
    let far = &told("leaflet grade")[0];
    assert_eq!(far.severity, Severity::Doubt);
    let [before] = &told("before.wall clearance")[..] else {
        panic!("one finding")
    };
    assert_eq!(before.severity, Severity::Doubt);
    assert!(before.message.contains("made at: after"), "{before}");
}
