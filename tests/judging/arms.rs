//! Statistics of arms.

use super::{
    ATM, METAL, MOULDED, arm, event, fractured, grouped, in_kpa, only, printed, run, says,
    with_diameters,
};
use hooptrace::judge::comparisons as compare;
use hooptrace::recording::{Comparison, EventKind, Grade, Group, Outcome, RunKind, RunResult};
use hooptrace::rig::{Series, Settings};
use std::fs;
use std::path::Path;

/// Differences of ten paired diameters: mean 0.102, s 0.0571159, 95 % t-interval of the mean 0.061142 to 0.142858 (by hand, t = 2.262157).
pub const DIFFERENCES: [f64; 10] = [0.08, 0.16, 0.02, 0.17, 0.09, 0.06, 0.17, 0.03, 0.09, 0.15];

#[test]
fn all_fractured() {
    let group = only(&arm("moulded", &in_kpa(&MOULDED), &[]));
    assert_eq!(
        (
            group.name.as_str(),
            group.by.as_str(),
            group.n,
            group.fractured,
            group.censored
        ),
        ("moulded", "arm", 10, 10, 0)
    );
    let pressure = &group.fracture_pressure;
    let (mean, u_mean) = pressure.mean.pair().unwrap();
    let (sd, u_sd) = pressure.sd.pair().unwrap();
    printed(mean / ATM, 9.39, 9);
    printed(sd / ATM, 0.458136, 6);
    printed(u_mean / ATM, 0.144875, 5); // 0.458136/√10
    printed(u_sd / ATM, 0.107984, 5); // 0.458136/√18
    printed(pressure.min_kpa.unwrap() / ATM, 8.8, 9);
    printed(pressure.max_kpa.unwrap() / ATM, 10.2, 9);
    // Clopper-Pearson 10/10 (0.691503, 1).
    printed(group.proportion.lower.unwrap(), 0.691503, 6);
    assert_eq!(group.proportion.upper, Some(1.0));
    // Tolerance limits with factors of ISO 16269-6 (n = 10: one-sided 2.3546, 2.9110, 3.9811 for 95/90, 95/95, 95/99; two-sided 3.3934
    // for 95/95, 2.8563 for 95/90).
    let find = |confidence: f64, coverage: f64, sides: u8, upper: bool| {
        group
            .tolerance
            .iter()
            .find(|t| {
                (t.confidence, t.coverage, t.sides) == (confidence, coverage, sides)
                    && t.upper.is_some() == upper
            })
            .unwrap()
    };
    for (coverage, k) in [(0.90, 2.3546), (0.95, 2.9110), (0.99, 3.9811)] {
        printed(find(0.95, coverage, 1, true).k, k, 4);
        let lower = find(0.95, coverage, 1, false);
        printed(lower.k, k, 4);
        assert!(lower.lower.unwrap() < mean && lower.upper.is_none());
    }
    printed(find(0.95, 0.90, 2, true).k, 2.8563, 4);
    printed(find(0.95, 0.95, 1, true).upper.unwrap() / ATM, 10.72362, 4);
    let both = find(0.95, 0.95, 2, true);
    printed(both.lower.unwrap() / ATM, 7.83535, 4);
    printed(both.upper.unwrap() / ATM, 10.94465, 4);
    assert_eq!(both.unit, "kPa");
    for (confidence, coverage) in [(0.9, 0.9), (0.9, 0.95), (0.99, 0.9), (0.99, 0.95)] {
        assert!(find(confidence, coverage, 1, true).k < find(confidence, coverage, 2, true).k);
    }
    says(&group.remarks, "change point");
    says(&group.remarks, "sampled lots");
    assert!(!group.remarks.iter().any(|r| r.contains("biased low")));
}

#[test]
fn three_stopped_without_fracture() {
    // Shape 8.490050, scale 24.928568 atm, ln L -21.308970 (in atm); likelihood-ratio limits of shape (4.099213, 14.693058) and scale (22.819733,
    // 28.298441 atm) by scipy 1.17.1, the profile by bounded minimisation; 10 % quantile 19.12421 with likelihood-ratio limits
    // 14.327297 and 21.837309 atm (from the definition at 30 digits).
    let group = only(&arm("metal", &in_kpa(&METAL), &[26.0 * ATM; 3]));
    assert_eq!((group.n, group.fractured, group.censored), (10, 7, 3));
    let fit = group.weibull.unwrap();
    printed(fit.shape.value.unwrap(), 8.490050, 6);
    printed(fit.shape.lower.unwrap(), 4.099213, 6);
    printed(fit.shape.upper.unwrap(), 14.693058, 6);
    printed(fit.scale.value.unwrap() / ATM, 24.928568, 6);
    printed(fit.scale.lower.unwrap() / ATM, 22.819733, 6);
    printed(fit.scale.upper.unwrap() / ATM, 28.298441, 6);
    printed(fit.b10.value.unwrap() / ATM, 19.12421, 5);
    printed(fit.b10.lower.unwrap() / ATM, 14.327297, 6);
    printed(fit.b10.upper.unwrap() / ATM, 21.837309, 6);
    // A density per kPa is a density per atm over 101.325.
    printed(fit.log_likelihood + 7.0 * ATM.ln(), -21.308970, 6);
    assert_eq!(fit.failures, 7);
    // Wrong: the three dropped (shape 17.3074), or counted as fractures (11.9636).
    assert!((fit.shape.value.unwrap() - 17.3074).abs() > 5.0);
    assert!((fit.shape.value.unwrap() - 11.9636).abs() > 3.0);
    // A step of a tenth at each fracture; the half is reached at the fifth.
    let curve = group.kaplan_meier;
    printed(curve.median.value.unwrap() / ATM, 22.7, 9);
    for (i, (p, s)) in curve.pressure_kpa.iter().zip(&curve.surviving).enumerate() {
        printed(*s, 0.9 - 0.1 * i as f64, 12);
        printed(p / ATM, METAL[i], 9);
    }
    assert_eq!(curve.surviving.len(), 7);
    // 7/10: mean of the fractured alone is far below the median of the whole and is marked so.
    assert_eq!(group.fracture_pressure.n, 7);
    assert!(group.tolerance.is_empty());
    says(
        &group.remarks,
        "No tolerance limits: 3 of 10 runs did not fracture",
    );
    says(&group.remarks, "biased low");
}

#[test]
fn handbook_weibull() {
    // NIST/SEMATECH e-Handbook 8.4.1.2: shape 1.7208, scale 606.5280, ln L -75.135; likelihood-ratio limits of the 10 % quantile from the
    // definition at 30 digits.
    let failures = [
        54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0,
    ];
    let fit = only(&arm("a", &failures, &[500.0; 10])).weibull.unwrap();
    printed(fit.shape.value.unwrap(), 1.7208, 4);
    printed(fit.scale.value.unwrap(), 606.5276, 4);
    printed(fit.log_likelihood, -75.1346, 4);
    printed(fit.b10.value.unwrap(), 164.0224, 4);
    printed(fit.b10.lower.unwrap(), 59.8546, 4);
    printed(fit.b10.upper.unwrap(), 271.9495, 4);
}

#[test]
fn share_of_fifteen() {
    // Clopper-Pearson 8/15 (0.265861, 0.787333); Wilson (0.301170, 0.751905) would be wrong.
    let mut runs = arm("a", &[900.0; 8], &[1200.0; 4]);
    for (i, outcome) in [Outcome::Burst, Outcome::Leak, Outcome::Slip]
        .into_iter()
        .enumerate()
    {
        runs.push(run(&format!("early{i}"), "a", outcome, 500.0));
    }
    let group = only(&runs);
    printed(group.proportion.value.unwrap(), 8.0 / 15.0, 12);
    printed(group.proportion.lower.unwrap(), 0.265861, 6);
    printed(group.proportion.upper.unwrap(), 0.787333, 6);
    says(
        &group.remarks,
        "3 runs ended by burst, leak or slip (early0, early1, early2)",
    );
}

#[test]
fn what_counts() {
    let mut twice = fractured("twice", "b", 1000.0);
    // Events in any order: the first in time is the fracture pressure.
    twice
        .events
        .insert(0, event(EventKind::Fracture, Some((20.0, 1400.0))));
    twice
        .events
        .insert(0, event(EventKind::Yield, Some((5.0, 600.0))));
    let mut by_eye = run("by-eye", "b", Outcome::Fractured, 1300.0);
    by_eye.events = vec![event(EventKind::Fracture, None)];
    let mut blank = run("blank", "b", Outcome::Reference, 1800.0);
    blank.kind = RunKind::Blank;
    let mut nameless = run("nameless", "b", Outcome::Unchanged, 1.0);
    nameless.highest_pressure.value = None;
    let mut unconfirmed = fractured("unconfirmed", "b", 1100.0);
    unconfirmed.events[0].grade = Grade::TraceOnly;
    let mut overruled = run("overruled", "c", Outcome::Unchanged, 1200.0);
    overruled.events = vec![event(EventKind::Fracture, Some((9.0, 1000.0)))];
    let runs = vec![
        overruled,
        twice,
        by_eye,
        run("spoilt", "b", Outcome::Invalid, 1900.0),
        blank,
        run("whole", "b", Outcome::Unchanged, 1500.0),
        nameless,
        unconfirmed,
        fractured("other", "a", 800.0),
        fractured("loose", "", 700.0),
    ];
    let groups = grouped(&runs);
    let names: Vec<&str> = groups.iter().map(|g| g.name.as_str()).collect();
    assert_eq!(names, ["a", "b", "c", "no arm"]);
    let c = &groups[2];
    assert_eq!((c.fractured, c.censored, c.fracture_pressure.n), (0, 1, 0));
    says(
        &c.remarks,
        "although the trace looks like a fracture: overruled",
    );
    let b = &groups[1];
    assert_eq!((b.n, b.fractured, b.censored), (5, 3, 2));
    assert_eq!(b.fracture_pressure.n, 2);
    assert_eq!(b.fracture_pressure.mean.value, Some(1050.0));
    // With the frame broken by eye, left-censored at 1300 kPa.
    assert_eq!(b.weibull.as_ref().unwrap().failures, 3);
    // Three strengths only: 2/3 and 1/3 left. The frame broken by eye alone is no censored strength at 1300 kPa (3/4, 1/2).
    printed(b.kaplan_meier.surviving[0], 2.0 / 3.0, 12);
    printed(b.kaplan_meier.surviving[1], 1.0 / 3.0, 12);
    says(&b.remarks, "(by-eye)");
    says(&b.remarks, "(nameless)");
    says(&b.remarks, "no inspection confirms: unconfirmed");
    says(&b.remarks, "rests on 3 fractures");
    // A single fracture: no spread, no fit, and reasons for both.
    let a = &groups[0];
    assert_eq!(a.fracture_pressure.mean.value, Some(800.0));
    assert!(a.fracture_pressure.mean.u.is_none() && a.fracture_pressure.mean.reason.is_some());
    assert!(a.fracture_pressure.sd.value.is_none() && a.fracture_pressure.sd.reason.is_some());
    assert!(a.weibull.is_none());
    says(
        &a.remarks,
        "No Weibull fit: failures: at least 2 needed, 1 given",
    );
    says(
        &a.remarks,
        "No tolerance limits: fracture pressures: at least 3 needed, 1 given",
    );
    assert_eq!(only(&runs[9..]).name, "all");
    assert!(grouped(&[]).is_empty());
}

#[test]
fn nothing_fractured_or_all_alike() {
    let none = only(&arm("a", &[], &[1500.0; 4]));
    assert!(none.weibull.is_none() && none.fracture_pressure.mean.value.is_none());
    assert!(none.kaplan_meier.median.value.is_none() && none.kaplan_meier.surviving.is_empty());
    // Clopper-Pearson 0/4: upper limit 1 - 0.025^(1/4) = 0.602365.
    assert_eq!(none.proportion.lower, Some(0.0));
    printed(none.proportion.upper.unwrap(), 0.602365, 6);
    let alike = only(&arm("a", &[900.0; 4], &[]));
    assert!(alike.weibull.is_none() && alike.tolerance.is_empty());
    says(&alike.remarks, "do not differ");
    assert!(alike.fracture_pressure.mean.u.is_none());
    // A confidence that is none: no limits, with the reason, and no panic.
    let settings = Settings {
        confidence: 1.5,
        ..Settings::default()
    };
    let broken = hooptrace::judge::groups(
        &arm("a", &in_kpa(&METAL), &[2600.0]),
        &Series::default(),
        &settings,
    );
    assert_eq!(broken[0].proportion.lower, None);
    assert!(broken[0].proportion.method.contains("no limits"));
    // Pressures that no fit can take.
    let mut odd = arm("a", &[-5.0, 0.0, 7.0, 1e300], &[f64::NAN, f64::INFINITY]);
    odd[4].highest_pressure.value = Some(f64::NAN);
    let odd = only(&odd);
    assert!(odd.weibull.is_none());
    says(&odd.remarks, "No Weibull fit");
}

#[test]
fn pooled_arms_say_so() {
    let mut runs = arm("a", &in_kpa(&METAL), &[]);
    says(&only(&runs).remarks, "this balloon");
    assert!(!only(&runs).remarks.iter().any(|r| r.contains("pooled")));
    runs[2].balloon_id = Some("B-2".to_owned());
    runs[3].frame_id = runs[4].frame_id.clone();
    let group = only(&runs);
    says(
        &group.remarks,
        "Different balloons are pooled in this group: B-1, B-2.",
    );
    says(&group.remarks, "frame of a-4 (a-3, a-4)");
    says(&group.remarks, "not independent");
}

#[test]
fn means_of_diameters() {
    let mut runs: Vec<RunResult> = DIFFERENCES
        .iter()
        .enumerate()
        .map(|(i, &d)| with_diameters(fractured(&format!("r{i}"), "a", 900.0 + d), d, 20.0 + d, d))
        .collect();
    runs.push(fractured("unmeasured", "a", 950.0));
    let group = only(&runs);
    let gain = group.area_gain.unwrap();
    printed(gain.value.unwrap(), 0.102, 9);
    printed(gain.lower.unwrap(), 0.061142, 6);
    printed(gain.upper.unwrap(), 0.142858, 6);
    assert!(gain.method.contains("10 of 11 runs"), "{}", gain.method);
    let after = group.diameter_after.unwrap();
    printed(after.value.unwrap(), 20.102, 9);
    printed(after.lower.unwrap(), 20.061142, 6);
    assert_eq!((after.unit.as_str(), gain.unit.as_str()), ("mm", "1"));
    let one = only(&runs[..1]).area_gain.unwrap();
    assert_eq!((one.value, one.lower), (Some(0.08), None));
    assert!(only(&runs[10..]).area_gain.is_none());
}

/// Comparisons by arm.
fn comparisons(runs: &[RunResult], groups: &[Group]) -> Vec<Comparison> {
    compare(runs, &Series::default(), groups, 0.95)
}

fn gehan() -> Vec<RunResult> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/stats/km_gehan.csv");
    let text = fs::read_to_string(path).unwrap();
    let rows = text.lines().filter(|l| !l.starts_with('#')).skip(1);
    rows.enumerate()
        .map(|(i, row)| {
            let cells: Vec<&str> = row.split(',').collect();
            let (value, name) = (cells[0].parse().unwrap(), format!("r{i}"));
            if cells[1] == "1" {
                fractured(&name, cells[2], value)
            } else {
                run(&name, cells[2], Outcome::Unchanged, value)
            }
        })
        .collect()
}

#[test]
fn logrank_of_gehan() {
    // Gehan 1965: chi-squared 16.79, 16.7929409892 by a statistics package; medians 23 and 8.
    let runs = gehan();
    let groups = grouped(&runs);
    let tests = comparisons(&runs, &groups);
    assert_eq!(
        (tests[0].name.as_str(), tests[0].df),
        ("logrank", Some(1.0))
    );
    assert_eq!(tests[0].groups, ["6-MP", "control"]);
    printed(tests[0].chi2.unwrap(), 16.7929409892, 9);
    printed(tests[0].p.unwrap(), 4.1688e-5, 9); // erfc(√(16.79294/2)), at 30 digits
    assert_eq!(groups[0].kaplan_meier.median.value, Some(23.0));
    assert_eq!(groups[1].kaplan_meier.median.value, Some(8.0));
    // Limits of the median 13 and none: the curve's upper limit never reaches a half.
    assert_eq!(groups[0].kaplan_meier.median.lower, Some(13.0));
    assert_eq!(groups[0].kaplan_meier.median.upper, None);
    // The censored taken as failures would give another value.
    let wrong: Vec<RunResult> = runs
        .iter()
        .map(|r| match r.outcome {
            Outcome::Unchanged => fractured(&r.run_id, "6-MP", r.highest_pressure.value.unwrap()),
            _ => r.clone(),
        })
        .collect();
    assert!((comparisons(&wrong, &groups)[0].chi2.unwrap() - 16.79).abs() > 1.0);
}

/// Three arms of five or six frames, atm. Log-rank tests of every two by lifelines 0.30.3 (`pairwise_logrank_test`), of all by its
/// `multivariate_logrank_test`; likelihoods of lognormal distributions maximised by scipy 1.17.1; Holm's adjustment by statsmodels 0.15.0
/// (`multipletests`).
#[test]
fn three_arms_are_compared_two_by_two_and_adjusted() {
    let mut runs = arm("a", &in_kpa(&[8.1, 8.8, 9.2, 9.5, 10.1]), &in_kpa(&[10.4]));
    runs.extend(arm(
        "b",
        &in_kpa(&[9.0, 9.9, 10.6, 11.2]),
        &in_kpa(&[11.8, 12.3]),
    ));
    runs.extend(arm(
        "c",
        &in_kpa(&[10.5, 11.4, 12.1]),
        &in_kpa(&[12.9, 13.3]),
    ));
    let tests = comparisons(&runs, &grouped(&runs));
    let of = |name: &str| -> Vec<&Comparison> {
        let all = tests.iter().filter(|test| test.name == name);
        all.collect()
    };
    let ranks = of("logrank");
    assert_eq!(ranks.len(), 4);
    printed(ranks[0].chi2.unwrap(), 8.290_063, 6);
    printed(ranks[0].p.unwrap(), 0.015_842_94, 8);
    assert!(ranks[0].p_adjusted.is_none());
    for (test, (pair, chi2, p, holm)) in ranks[1..].iter().zip([
        (["a", "b"], 2.959_955, 0.085_350_33, 0.170_700_66),
        (["a", "c"], 6.861_300, 0.008_808_24, 0.026_424_73),
        (["b", "c"], 0.604_071, 0.437_028_92, 0.437_028_92),
    ]) {
        assert_eq!(
            (test.groups.as_slice(), test.df),
            (&pair.map(str::to_owned)[..], Some(1.0))
        );
        printed(test.chi2.unwrap(), chi2, 6);
        printed(test.p.unwrap(), p, 7);
        printed(test.p_adjusted.unwrap(), holm, 7);
        assert!(test.method.ends_with("adjusted for 3 pairs (Holm)"));
    }
    let ratios = of("likelihood-ratio");
    assert_eq!(ratios.len(), 4);
    printed(ratios[0].p.unwrap(), 0.049_722, 5);
    for (test, (chi2, p, holm)) in ratios[1..].iter().zip([
        (4.449_574, 0.108_090, 0.216_180),
        (9.065_568, 0.010_751, 0.032_252),
        (1.618_295, 0.445_237, 0.445_237),
    ]) {
        assert!(test.method.contains("both groups") && test.method.contains("lognormal"));
        printed(test.chi2.unwrap(), chi2, 4);
        printed(test.p.unwrap(), p, 5);
        printed(test.p_adjusted.unwrap(), holm, 5);
    }
    // Two arms are one pair: nothing to adjust.
    let two = &runs[..12];
    assert!(
        comparisons(two, &grouped(two))
            .iter()
            .all(|test| test.p_adjusted.is_none())
    );
}

#[test]
fn nothing_to_compare() {
    let one = arm("a", &in_kpa(&METAL), &[]);
    assert!(comparisons(&one, &grouped(&one)).is_empty());
    let mut whole = arm("a", &[], &[1500.0; 4]);
    whole.extend(arm("b", &[], &[1600.0; 4]));
    // Where nothing broke every test of strengths says why it is not told.
    let untold = comparisons(&whole, &grouped(&whole));
    let names: Vec<&str> = untold.iter().map(|test| test.name.as_str()).collect();
    assert_eq!(names, ["logrank", "likelihood-ratio", "fisher"]);
    for (test, why) in untold.iter().zip([
        "do not tell the groups apart",
        "not told, group a: ",
        "0 of 4 against 0 of 4; Fisher's exact test: not told, all fractured, or none did",
    ]) {
        assert!(test.p.is_none() && test.chi2.is_none());
        assert!(test.method.contains(why), "{}", test.method);
    }
    // An arm whose only run has no pressure is left out; three arms give two degrees of freedom.
    let mut three = gehan();
    three.extend(arm("third", &[9.0, 11.0, 25.0], &[]));
    let mut unseen = run("by-eye", "unseen", Outcome::Fractured, 30.0);
    unseen.events = vec![event(EventKind::Fracture, None)];
    three.push(unseen);
    let test = comparisons(&three, &grouped(&three));
    assert_eq!(test[0].groups, ["6-MP", "control", "third"]);
    assert_eq!(test[0].df, Some(2.0));
    // Two degrees of freedom: p = exp(-chi²/2) exactly.
    printed(test[0].p.unwrap(), (-0.5 * test[0].chi2.unwrap()).exp(), 12);
}

/// A frame that broke while the channel stood at its limit counts as fractured; of its strength only that it is more than the limit is known.
/// With failures at 800 and 900 and such a one at 1000 the product-limit curve stays at 1/3 (by hand: 2/3, then 1/2 of it, nothing more).
#[test]
fn a_break_beyond_the_limit_of_the_channel_is_right_censored_there() {
    let mut runs = arm("a", &[800.0, 900.0, 1000.0], &[]);
    let reason = "the channel was at its limit: the pressure was at least this";
    runs[2].events[0].pressure =
        hooptrace::uncertain::Quantity::without_u(1000.0, "kPa", "made for a test", reason);
    let groups = grouped(&runs);
    let group = &groups[0];
    assert_eq!(group.fractured, 3);
    says(
        &group.remarks,
        "broke beyond the limit of the pressure channel (a-2)",
    );
    assert!((group.fracture_pressure.mean.value.unwrap() - 850.0).abs() < 1e-9);
    let curve = &group.kaplan_meier;
    assert_eq!(curve.pressure_kpa, [800.0, 900.0]);
    printed(curve.surviving[1], 1.0 / 3.0, 12);
}
