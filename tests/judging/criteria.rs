//! Verdicts on criteria.

use super::arms::DIFFERENCES;
use super::{
    ATM, METAL, MOULDED, arm, event, fractured, in_kpa, judged, one_verdict, run, with_diameters,
};
use hooptrace::judge::{Asked, Kind, RULES, Setting, samples};
use hooptrace::recording::{EventKind, Outcome, RunResult};
use hooptrace::rig::Series;
use std::collections::BTreeSet;

fn share(at_least: f64, confidence: f64) -> String {
    format!(
        "[[criterion]]\nrule = \"fractured_share\"\nat_least = {at_least}\nconfidence = {confidence}\n"
    )
}

fn below(limit: &str, coverage: f64) -> String {
    format!(
        "[[criterion]]\nrule = \"fracture_pressure_below\"\n{limit}\ncoverage = {coverage}\nconfidence = 0.95\n"
    )
}

/// `broken` frames that fractured and `whole` that did not.
fn counted(broken: usize, whole: usize) -> Vec<RunResult> {
    arm("a", &vec![900.0; broken], &vec![1500.0; whole])
}

/// One of twenty far beyond the others: the normal limit stays below 1600 kPa, but twenty values look nothing like normal ones, and of so few
/// there is no limit without a distribution (59 are needed for 95 % at 95 %).
#[test]
fn pressures_that_do_not_look_normal_pass_by_no_normal_limit() {
    let mut pressures: Vec<f64> = (0..19).map(|i| 800.0 + f64::from(i % 5)).collect();
    pressures.push(1200.0);
    let runs = arm("a", &pressures, &[]);
    let reason = one_verdict(&below("limit_kpa = 1600", 0.95), &runs, "undecided");
    assert!(reason.contains("normality is doubted"), "{reason}");
    let verdict = judged(&below("limit_kpa = 1600", 0.95), &runs).remove(0);
    assert_eq!(verdict.more_runs, Some(39));
    let many = arm("a", &pressures.repeat(3), &[]);
    one_verdict(&below("limit_kpa = 1600", 0.95), &many, "pass");
}

#[test]
fn share_by_the_success_run() {
    // 59 runs without failure show 95 % with 95 % confidence: lower limit 0.950492 (ln 0.05 / ln 0.95 = 58.40).
    let reason = one_verdict(&share(0.95, 0.95), &counted(59, 0), "pass");
    assert!(
        reason.contains("59 of 59") && reason.contains("0.9505"),
        "{reason}"
    );
    let reason = one_verdict(&share(0.95, 0.95), &counted(58, 0), "undecided");
    assert!(
        reason.contains("59 runs with no failure would do: 1 more"),
        "{reason}"
    );
    let reason = one_verdict(&share(0.95, 0.95), &counted(10, 0), "undecided");
    // Lower limit of 10/10: 0.05^(1/10) = 0.741134.
    assert!(
        reason.contains("0.7411") && reason.contains(": 49 more"),
        "{reason}"
    );
    // With one failure 93 runs are needed (cumulative binomial), so 35 beyond these 58.
    let reason = one_verdict(&share(0.95, 0.95), &counted(57, 1), "undecided");
    assert!(
        reason.contains("93 runs with at most 1 failure would do: 35 more"),
        "{reason}"
    );
    one_verdict(&share(0.95, 0.95), &counted(92, 1), "pass");
    one_verdict(&share(0.95, 0.95), &counted(91, 1), "undecided");
    // 29 and 22 runs for 90 % at 95 and 90 % confidence.
    one_verdict(&share(0.9, 0.95), &counted(29, 0), "pass");
    one_verdict(&share(0.9, 0.95), &counted(28, 0), "undecided");
    one_verdict(&share(0.9, 0.9), &counted(22, 0), "pass");
    one_verdict(&share(0.9, 0.9), &counted(21, 0), "undecided");
    // Exact at the limit: two runs show one half with 75 %.
    one_verdict(&share(0.5, 0.75), &counted(2, 0), "pass");
}

#[test]
fn share_on_the_wrong_side() {
    let reason = one_verdict(&share(0.9, 0.95), &counted(8, 7), "fail");
    assert!(
        reason.contains("8 of 15") && reason.contains("0.7563 with the same confidence too"),
        "{reason}"
    );
    // Upper exact limit of 8 of 15 at 95 % one-sided: 0.756273 (scipy 1.17.1, beta.ppf(0.95, 9, 7)).
    one_verdict(&share(0.7563, 0.95), &counted(8, 7), "fail");
    one_verdict(&share(0.7562, 0.95), &counted(8, 7), "undecided");
    let reason = one_verdict(&share(0.9, 0.95), &counted(8, 1), "undecided");
    assert!(reason.contains("the wrong side, but"), "{reason}");
    // A burst is no fracture.
    let mut runs = counted(29, 0);
    runs.extend((0..4).map(|i| run(&format!("burst{i}"), "a", Outcome::Burst, 700.0)));
    // 29 of 33: upper limit 0.9575 (scipy 1.17.1, beta.ppf(0.95, 30, 4)).
    let reason = one_verdict(&share(0.9, 0.95), &runs, "undecided");
    assert!(reason.contains("4 runs ended by burst"), "{reason}");
    one_verdict(&share(0.958, 0.95), &runs, "fail");
}

/// How many runs would end in a fail if all stayed as it is (scipy 1.17.1). MOULDED has mean 9.39 and s 0.458136 mm or atm: the mean lies below
/// 9.5 with t(0.95, n - 1) s / sqrt(n) <= 0.11 from 49 runs on (0.10977; 48: 0.11096); the factor of the lower limit of the 95 % quantile passes
/// (10.0 - 9.39) / s = 1.33148 at 51 (1.33216; 50: 1.32939). 4 of 33 without a fracture, 10 % allowed: the lower exact limit passes 10 % at 619
/// with 75 (beta.ppf(0.05, 75, 545) = 0.10016).
#[test]
fn on_the_wrong_side_so_many_runs_would_end_in_a_fail() {
    let runs = arm("a", &in_kpa(&MOULDED), &[]);
    let more = |text: &str, runs: &[RunResult], mention: &str| {
        let verdict = judged(text, runs).remove(0);
        assert_eq!(verdict.verdict, "undecided", "{}", verdict.reason);
        let reason = verdict.more_runs_reason.unwrap();
        assert!(reason.contains(mention), "{reason}");
        verdict.more_runs.unwrap()
    };
    let fail = "runs would end in a fail";
    assert_eq!(more(&below("limit_atm = 10.0", 0.95), &runs, fail), 41);
    let values = MOULDED.iter().enumerate();
    let after: Vec<RunResult> = values
        .map(|(i, d)| with_diameters(fractured(&format!("r{i}"), "a", 900.0), 0.1, *d, 0.2))
        .collect();
    let mean = "[[criterion]]\nrule = \"mean\"\nquantity = \"diameters.after\"\nat_least_mm = 9.5\nconfidence = 0.95\n";
    assert_eq!(more(mean, &after, fail), 39);
    let counted = counted(29, 4);
    // Sooner still 89 runs with no more than these 4 would pass (binom.cdf(4, 89, 0.1) <= 0.05): the smaller number stands.
    let passes = "89 runs with at most 4 failures would do: 56 more, none of them a failure; or else 619 runs would end in a fail";
    assert_eq!(more(&share(0.9, 0.95), &counted, passes), 56);
}

#[test]
fn all_fractured_below_a_pressure() {
    // Upper one-sided tolerance limit 95/95: 10.72362 atm; the 95 % quantile mean + 1.644854 s is 10.143567 atm.
    let runs = arm("a", &in_kpa(&MOULDED), &[]);
    let reason = one_verdict(&below("limit_atm = 10.724", 0.95), &runs, "pass");
    assert!(
        reason.contains("1086.6 kPa") && reason.contains("10.724 atm"),
        "{reason}"
    );
    one_verdict(&below("limit_atm = 10.723", 0.95), &runs, "undecided");
    one_verdict(&below("limit_kpa = 1030", 0.95), &runs, "undecided"); // 10.1653 atm
    one_verdict(&below("limit_kpa = 1027", 0.95), &runs, "undecided"); // 10.1357 atm
    // Lower limit of the same quantile: k = 1.0172988 (scipy 1.17.1, nct.ppf(0.05, 9, z sqrt(10)) / sqrt(10)), 998.6654 kPa.
    one_verdict(&below("limit_kpa = 998.67", 0.95), &runs, "undecided");
    one_verdict(&below("limit_kpa = 998.66", 0.95), &runs, "fail");
    // The same limit in other units: 10.724 atm = 10.8661 bar = 157.599 psi; an atm taken for a bar would pass at 10.73.
    one_verdict(&below("limit_bar = 10.867", 0.95), &runs, "pass");
    one_verdict(&below("limit_bar = 10.73", 0.95), &runs, "undecided");
    one_verdict(&below("limit_psi = 157.7", 0.95), &runs, "pass");
    one_verdict(&below("limit_psi = 157.5", 0.95), &runs, "undecided");
    // Two pressures say nothing.
    let reason = one_verdict(&below("limit_atm = 20", 0.95), &runs[..2], "undecided");
    assert!(reason.contains("at least 3"), "{reason}");
    // A fracture at an unknown pressure below the limit harms nothing, one that may lie beyond withholds the pass.
    let mut by_eye = run("by-eye", "a", Outcome::Fractured, 10.6 * ATM);
    by_eye.events = vec![event(EventKind::Fracture, None)];
    let mut more = runs.clone();
    more.push(by_eye.clone());
    one_verdict(&below("limit_atm = 10.724", 0.95), &more, "pass");
    by_eye.highest_pressure.value = Some(12.0 * ATM);
    more[10] = by_eye;
    let reason = one_verdict(&below("limit_atm = 10.724", 0.95), &more, "undecided");
    assert!(reason.contains("by-eye"), "{reason}");
}

#[test]
fn censored_below_a_pressure() {
    // Weibull 90 % quantile 27.501785 atm. Its one-sided 95 % limits, set by simulation: 25.839 and 33.218 atm (40 000 samples by an independent
    // program with numpy 2.4.6; of 4999 samples they are uncertain by 0.06 and 0.33 atm, two standard deviations). The chi-squared limit, 31.78,
    // holds only 91 % of the time in samples of ten.
    let runs = arm("a", &in_kpa(&METAL), &[26.0 * ATM; 3]);
    let reason = one_verdict(&below("limit_atm = 33.8", 0.9), &runs, "pass");
    assert!(
        reason.contains("right-censored") && reason.contains("simulated from the fit, seed 1"),
        "{reason}"
    );
    one_verdict(&below("limit_atm = 32.7", 0.9), &runs, "undecided");
    one_verdict(&below("limit_atm = 27.51", 0.9), &runs, "undecided");
    one_verdict(&below("limit_atm = 27.49", 0.9), &runs, "undecided");
    one_verdict(&below("limit_atm = 26.0", 0.9), &runs, "undecided");
    one_verdict(&below("limit_atm = 25.7", 0.9), &runs, "fail");
    // 95 % quantile 28.367574 atm, limits 26.518 and 35.248 atm.
    one_verdict(&below("limit_atm = 36.0", 0.95), &runs, "pass");
    one_verdict(&below("limit_atm = 34.5", 0.95), &runs, "undecided");
    // Wrong: the three dropped, or counted as fractures, would put the 95 % quantile at 24.1065 or 26.5030 atm.
    one_verdict(&below("limit_atm = 26.7", 0.95), &runs, "undecided");
    one_verdict(&below("limit_atm = 26.35", 0.95), &runs, "fail");
    // With fewer than five fractures the limit is too narrow to pass on.
    let few = arm("a", &in_kpa(&METAL[..4]), &[23.0 * ATM; 2]);
    let reason = one_verdict(&below("limit_atm = 500", 0.9), &few, "undecided");
    assert!(reason.contains("fewer than 5 fractures"), "{reason}");
    // None fractured: beyond the limit it fails by counting (5 of 5: lower limit 0.5493), below it nothing is known.
    let whole = arm("a", &[], &[26.0 * ATM; 5]);
    let reason = one_verdict(&below("limit_atm = 25", 0.9), &whole, "fail");
    assert!(reason.contains("5 of 5 runs held"), "{reason}");
    one_verdict(&below("limit_atm = 27", 0.9), &whole, "undecided");
    // One of ten beyond is what a coverage of 90 % allows.
    let mut one = arm("a", &[], &[20.0 * ATM; 9]);
    one.push(run("high", "a", Outcome::Unchanged, 26.0 * ATM));
    one_verdict(&below("limit_atm = 25", 0.9), &one, "undecided");
    // One of ten is more than 5 %, but may well be chance (lower limit 0.0051).
    one_verdict(&below("limit_atm = 25", 0.95), &one, "undecided");
}

#[test]
fn a_frame_that_held_withholds_the_pass() {
    // Forty near 9 atm and one at 9.9: its normal limit for 90 % stays below 9.8, but the frame itself did not.
    let mut pressures: Vec<f64> = (0..40).map(|i| 8.8 + 0.01 * f64::from(i)).collect();
    pressures.push(9.9);
    let runs = arm("a", &in_kpa(&pressures), &[]);
    let reason = one_verdict(&below("limit_atm = 9.8", 0.9), &runs, "undecided");
    assert!(reason.contains("1 run held to the limit"), "{reason}");
    one_verdict(&below("limit_atm = 9.95", 0.9), &runs, "pass");
}

fn measured() -> Vec<RunResult> {
    DIFFERENCES
        .iter()
        .enumerate()
        .map(|(i, &d)| with_diameters(fractured(&format!("r{i}"), "a", 900.0 + d), d, 20.0 + d, d))
        .collect()
}

#[test]
fn means_reach_a_value() {
    // Mean 0.102, lower end of the two-sided 95 % t-interval 0.061142: the one-sided limit at 97.5 %.
    let set = |least: f64| {
        format!("[[criterion]]\nrule = \"set_at_least\"\nat_least = {least}\nconfidence = 0.975\n")
    };
    let runs = measured();
    let reason = one_verdict(&set(0.0611), &runs, "pass");
    assert!(
        reason.contains("0.1020 of 10 runs") && reason.contains("97.5 %"),
        "{reason}"
    );
    one_verdict(&set(0.0612), &runs, "undecided");
    one_verdict(&set(0.1019), &runs, "undecided");
    // The other end of that interval is 0.142858.
    one_verdict(&set(0.1021), &runs, "undecided");
    one_verdict(&set(0.1428), &runs, "undecided");
    one_verdict(&set(0.1429), &runs, "fail");
    // One-sided 95 %: t(0.95; 9) = 1.833113 (printed tables), limit 0.102 - 1.833113·0.0571159/√10 = 0.068891.
    let one_sided = |least: f64| set(least).replace("0.975", "0.95");
    one_verdict(&one_sided(0.0688), &runs, "pass");
    one_verdict(&one_sided(0.0690), &runs, "undecided");
    let after = |key: &str, least: f64| {
        format!(
            "[[criterion]]\nrule = \"diameter_after_at_least\"\n{key} = {least}\nconfidence = 0.975\n"
        )
    };
    one_verdict(&after("at_least_mm", 20.061), &runs, "pass");
    one_verdict(&after("at_least_mm", 20.062), &runs, "undecided");
    one_verdict(&after("at_least_mm", 20.142), &runs, "undecided");
    one_verdict(&after("at_least_mm", 20.143), &runs, "fail");
    one_verdict(&after("at_least_cm", 2.0061), &runs, "pass");
    one_verdict(&after("at_least_cm", 2.0143), &runs, "fail");
    // Too few: one value decides on neither side, nor does none at all.
    one_verdict(&set(0.05), &runs[..1], "undecided");
    one_verdict(&set(0.09), &runs[..1], "undecided");
    let reason = one_verdict(&set(0.05), &counted(3, 0), "undecided");
    assert!(reason.contains("0 of 3 runs have a value"), "{reason}");
    let mut more = runs;
    more.extend(counted(2, 0));
    let reason = one_verdict(&set(0.0611), &more, "pass");
    assert!(
        reason.contains("2 runs without a value left out"),
        "{reason}"
    );
}

#[test]
fn events_are_rare() {
    let rule = |most: f64| {
        format!("[[criterion]]\nrule = \"no_event\"\nat_most = {most}\nconfidence = 0.95\n")
    };
    // 0/30: upper limit 0.095034 (1 - 0.05^(1/30)); 29 runs without are needed for 10 %.
    one_verdict(&rule(0.0951), &counted(20, 10), "pass");
    one_verdict(&rule(0.0950), &counted(20, 10), "undecided");
    let reason = one_verdict(&rule(0.1), &counted(20, 0), "undecided");
    assert!(
        reason.contains("29 runs with no failure would do: 9 more"),
        "{reason}"
    );
    // 1/20: upper one-sided limit at 97.5 % is the two-sided 0.248733.
    let mut runs = counted(19, 0);
    runs.push(run("slipped", "a", Outcome::Slip, 700.0));
    let wide = |most: f64| rule(most).replace("0.95", "0.975");
    one_verdict(&wide(0.2488), &runs, "pass");
    one_verdict(&wide(0.2487), &runs, "undecided");
    // Its lower limit at 95 %: 1 - 0.95^(1/20) = 0.002561.
    one_verdict(&rule(0.04), &runs, "undecided");
    one_verdict(&rule(0.0026), &runs, "undecided");
    one_verdict(&rule(0.0025), &runs, "fail");
    // A burst after the fracture counts, a yield does not.
    let mut late = counted(19, 0);
    late[0]
        .events
        .push(event(EventKind::Yield, Some((5.0, 600.0))));
    one_verdict(&rule(0.2), &late, "pass");
    late[0]
        .events
        .push(event(EventKind::Burst, Some((30.0, 1200.0))));
    let reason = one_verdict(&rule(0.0026), &late, "fail");
    assert!(reason.contains("1 of 19"), "{reason}");
}

#[test]
fn every_arm_by_itself() {
    let mut runs = arm("moulded", &in_kpa(&MOULDED), &[]);
    runs.extend(arm("metal", &in_kpa(&METAL), &[26.0 * ATM; 3]));
    let all = judged(&below("limit_atm = 12", 0.95), &runs);
    let seen: Vec<(&str, &str)> = all
        .iter()
        .map(|v| (v.group.as_str(), v.verdict.as_str()))
        .collect();
    assert_eq!(seen, [("metal", "fail"), ("moulded", "pass")]);
    let one = below("limit_atm = 12\narm = \"moulded\"", 0.95);
    one_verdict(&one, &runs, "pass");
    let astray = below("limit_atm = 12\narm = \"molded\"", 0.95);
    let reason = one_verdict(&astray, &runs, "undecided");
    assert!(reason.contains("did you mean \"moulded\"?"), "{reason}");
    let reason = one_verdict(&astray, &[], "undecided");
    assert!(reason.contains("no frame run counts"), "{reason}");
}

#[test]
fn every_rule_keeps_its_word() {
    let names: BTreeSet<&str> = RULES.iter().map(|rule| rule.name()).collect();
    assert_eq!(names.len(), RULES.len());
    let runs = counted(1, 1);
    let mut whole = samples(&runs, &Series::default());
    let mut empty = whole.clone();
    empty[0].runs.clear();
    empty[0].strengths.clear();
    whole.extend(empty);
    for rule in RULES {
        assert!(!rule.source().is_empty() && rule.asks().contains("confidence"));
        let keys: BTreeSet<&str> = rule.keys().iter().map(|key| key.name).collect();
        assert_eq!(keys.len(), rule.keys().len());
        assert!(keys.contains("confidence"), "{}", rule.name());
        // One run, no run, no value: a verdict with a reason, never a pass.
        for sample in &whole {
            let mut asked = Asked::default();
            assert_ne!(rule.judge(&asked, sample).verdict, "pass");
            for key in rule.keys() {
                let value = if key.kind == Kind::Confidence {
                    0.95
                } else {
                    0.5
                };
                asked
                    .settings
                    .insert(key.name, Setting { value, unit: None });
            }
            let judgement = rule.judge(&asked, sample);
            assert_ne!(judgement.verdict, "pass", "{}", rule.name());
            assert!(!judgement.reason.contains("NaN"), "{}", judgement.reason);
        }
    }
}
