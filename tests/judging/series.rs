//! Groups by any columns, families of strengths, values, dose and comparisons.

use super::{
    ATM, METAL, MOULDED, arm, by_definition, compared, event, find, fractured, in_kpa, only,
    printed, run, says, series, with_diameters,
};
use hooptrace::judge::{groups, mixed_groups, samples};
use hooptrace::recording::{
    EventKind, Finding, Group, Outcome, Place, PressureDefinition, RunResult,
};
use hooptrace::rig::{Series, Settings};

/// What is mixed, each finding at the run and the column it names.
fn mixed(runs: &[RunResult], by: &Series) -> Vec<Finding> {
    mixed_groups(runs, by, &|run, column| {
        let at = runs.iter().position(|other| other.run_id == run.run_id)?;
        Some(Place::cell("runs.csv", 2 + at as u64, column))
    })
}

fn family(group: &Group, model: &str) -> hooptrace::recording::StrengthResult {
    let mut all = group.strength.iter();
    let found = all.find(|s| s.model == model && s.quantity == "fracture_pressure");
    found.unwrap().clone()
}

#[test]
fn groups_are_named_by_their_columns() {
    let mut runs = arm("a", &in_kpa(&MOULDED), &[]);
    for (i, run) in runs.iter_mut().enumerate() {
        run.setup.construction = Some(if i < 4 { "moulded" } else { "banded" }.to_owned());
        run.balloon_id = (i != 9).then(|| "B-22".to_owned());
    }
    let by = series(&["construction", "balloon"]);
    let found = groups(&runs, &by, &Settings::default());
    let names: Vec<(&str, &str, usize)> = found
        .iter()
        .map(|g| (g.name.as_str(), g.by.as_str(), g.n))
        .collect();
    assert_eq!(
        names,
        [
            ("banded / B-22", "construction, balloon", 5),
            ("banded / no balloon", "construction, balloon", 1),
            ("moulded / B-22", "construction, balloon", 4),
        ]
    );
    // Nobody has an operator: one group.
    assert_eq!(samples(&runs, &series(&["operator"]))[0].name, "all");
    assert_eq!(samples(&runs, &series(&[]))[0].name, "all");
    // Any other column of the tables: its name stands before the cell.
    runs[0]
        .setup
        .listed
        .insert("lot".to_owned(), "L7".to_owned());
    let names: Vec<String> = samples(&runs, &series(&["Lot"]))
        .iter()
        .map(|sample| sample.name.clone())
        .collect();
    assert_eq!(names, ["lot L7", "no lot"]);
}

#[test]
fn what_is_mixed_is_a_finding() {
    let mut runs = arm("a", &in_kpa(&METAL), &[]);
    let codes = |runs: &[RunResult], by: &[&str]| -> Vec<String> {
        mixed(runs, &series(by))
            .into_iter()
            .inspect(|f| assert_eq!((f.code.as_str(), f.effect.is_some()), ("mixed-group", true)))
            .map(|f| f.message)
            .collect()
    };
    assert!(codes(&runs, &["arm"]).is_empty());
    for (i, run) in runs.iter_mut().enumerate() {
        run.setup.balloon_model = Some(if i == 3 { "22 × 40 mm" } else { "24 × 40 mm" }.to_owned());
        // 40 to 200 kPa/s is a factor of five, and not more.
        run.setup.rise_kpa_s = Some(if i == 0 { 40.0 } else { 200.0 });
        run.setup.temperature_degc = Some(if i == 1 { 37.0 } else { 21.5 });
    }
    // The first run unlike those before it: the fourth in its balloon, the second in its temperature (line 1 is the header).
    let places: Vec<(Option<u64>, Option<String>)> = mixed(&runs, &series(&["arm"]))
        .into_iter()
        .map(|finding| (finding.line, finding.column))
        .collect();
    assert_eq!(
        places,
        [
            (Some(5), Some("balloon_id".to_owned())),
            (Some(3), Some("trace".to_owned()))
        ]
    );
    let found = codes(&runs, &["arm"]);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].contains("different balloon models: 22 × 40 mm, 24 × 40 mm"));
    assert!(found[1].contains("21.5 to 37.0 °C"), "{}", found[1]);
    runs[0].setup.rise_kpa_s = Some(39.0);
    assert!(codes(&runs, &["arm"])[1].contains("39 to 200 kPa/s"));
    // Kept apart by the column, it is no longer mixed.
    assert!(
        !codes(&runs, &["balloon_model"])
            .iter()
            .any(|m| m.contains("balloon models"))
    );
    runs[2].setup.balloon_label = Some("nominal 5 and rated 16 atm".to_owned());
    runs[3].setup.balloon_label = Some("nominal 6 and rated 20 atm".to_owned());
    let labels =
        "balloons with different labels: nominal 5 and rated 16 atm, nominal 6 and rated 20 atm";
    assert!(codes(&runs, &["arm"]).iter().any(|m| m.contains(labels)));
    let apart = codes(&runs, &["balloon"]);
    assert!(!apart.iter().any(|m| m.contains(labels)), "{apart:?}");
    runs[2].setup.label_size_mm = Some(22.0);
    runs[3].setup.label_size_mm = Some(24.0);
    let sizes = "different label sizes of frames: 22 mm, 24 mm";
    assert!(codes(&runs, &["arm"]).iter().any(|m| m.contains(sizes)));
    assert!(
        !codes(&runs, &["label_size"])
            .iter()
            .any(|m| m.contains(sizes))
    );
    runs[2].setup.label_size_mm = None;
    // A pressure that only a dial tells is not pooled with onsets.
    let mut dial = run("dial", "a", Outcome::Fractured, 2500.0);
    dial.events = vec![event(EventKind::Fracture, None)];
    by_definition(&mut dial, PressureDefinition::Dial, 2300.0, None);
    runs.push(dial);
    let found = codes(&runs, &["arm"]);
    assert!(found.iter().any(|m| m.contains("dial (dial)")), "{found:?}");
    assert_eq!(
        groups(&runs, &series(&["arm"]), &Settings::default())[0]
            .fracture_pressure
            .n,
        7
    );
}

/// Groups that hold the same frame are not independent.
#[test]
fn a_frame_in_two_groups_is_a_finding() {
    let mut runs = arm("a", &in_kpa(&METAL), &[]);
    runs.extend(arm("b", &in_kpa(&METAL), &[]));
    for (i, run) in runs.iter_mut().enumerate() {
        run.frame_id = Some(format!("F{i}"));
    }
    assert!(mixed(&runs, &series(&["arm"])).is_empty());
    runs[9].frame_id = Some("F0".to_owned());
    let [found] = &mixed(&runs, &series(&["arm"]))[..] else {
        panic!("one finding")
    };
    assert_eq!(found.code, "shared-frames");
    assert!(found.message.contains("F0 (a, b)"), "{found}");
}

/// A frame that inspection found broken, of unknown pressure, is left-censored at the highest pressure of its run: by the definition of the
/// likelihood the distribution then holds more weak frames than without it, and it is never dropped.
#[test]
fn a_fracture_without_a_pressure_is_left_censored() {
    let whole = arm("metal", &in_kpa(&METAL), &[26.0 * ATM; 3]);
    let mut runs = whole.clone();
    let mut unseen = run("unseen", "metal", Outcome::Fractured, 20.0 * ATM);
    unseen.events = Vec::new();
    runs.push(unseen);
    let (with, without) = (only(&runs), only(&whole));
    for model in ["weibull", "lognormal", "normal"] {
        let (with, without) = (family(&with, model), family(&without, model));
        assert_eq!(
            (with.n, with.failures),
            (without.n + 1, without.failures + 1)
        );
        let tenth = |r: &hooptrace::recording::StrengthResult| {
            let of = r.quantiles.iter().find(|q| q.p == 0.1);
            of.unwrap().interval.value.unwrap()
        };
        assert!(tenth(&with) < tenth(&without));
    }
    assert_eq!(with.fracture_pressure.n, without.fracture_pressure.n);
}

/// Seven frames of a set, three stopped at 26 atm. Weibull: shape 8.490050, scale 24.928568, ln L -21.308970, quantiles 19.12421, 23.87531,
/// 28.36757. Normal: mean 23.69008, sd 3.01471, ln L -20.63384. All in atm, by an independent program from the definition of the likelihood.
#[test]
fn families_of_a_censored_set() {
    let group = only(&arm("metal", &in_kpa(&METAL), &[26.0 * ATM; 3]));
    let weibull = family(&group, "weibull");
    let value = |s: &hooptrace::recording::StrengthResult, i: usize| {
        s.parameters[i].interval.value.unwrap()
    };
    assert_eq!(weibull.parameters[0].name, "scale");
    printed(value(&weibull, 0) / ATM, 24.928568, 5);
    printed(value(&weibull, 1), 8.490050, 5);
    printed(weibull.log_likelihood + 7.0 * ATM.ln(), -21.308970, 6);
    for (p, expected) in [(0.1, 19.12421), (0.5, 23.87531), (0.95, 28.36757)] {
        let quantile = weibull.quantiles.iter().find(|q| q.p == p).unwrap();
        printed(quantile.interval.value.unwrap() / ATM, expected, 5);
        assert!(quantile.interval.lower < quantile.interval.value);
        assert!(quantile.interval.upper > quantile.interval.value);
    }
    let normal = family(&group, "normal");
    printed(value(&normal, 0) / ATM, 23.69008, 5);
    printed(value(&normal, 1) / ATM, 3.01471, 5);
    printed(normal.log_likelihood + 7.0 * ATM.ln(), -20.63384, 5);
    // AICc = 4 - 2 ln L + 12/7 for ten observations and two parameters; the difference of two is that of their -2 ln L.
    printed(
        weibull.aicc.unwrap(),
        4.0 - 2.0 * weibull.log_likelihood + 12.0 / 7.0,
        9,
    );
    let best = group
        .strength
        .iter()
        .filter_map(|s| s.delta_aicc)
        .fold(f64::INFINITY, f64::min);
    assert_eq!(best, 0.0);
    let check = weibull.goodness.as_ref().unwrap();
    assert!(check.correlation > 0.9 && check.p > 0.05 && check.draws > 150);
    // The same seed, the same numbers.
    assert_eq!(
        family(
            &only(&arm("metal", &in_kpa(&METAL), &[26.0 * ATM; 3])),
            "weibull"
        ),
        weibull
    );
    // Hazen's positions: the censored all lie above, so the i-th of ten stands at (i - 1/2)/10.
    for (i, point) in group.strength_points.iter().enumerate() {
        printed(point.probability, (i as f64 + 0.5) / 10.0, 12);
        printed(point.up_to / ATM, METAL[i], 9);
    }
    // Limits of the product limit at the first fracture: survival 0.9, log(-log) limits 0.473 and 0.985 (Greenwood by hand:
    // u = 0.0948683, exponent 1.959964·0.0948683/(0.9·0.1053605) = 1.960870).
    let curve = &group.kaplan_meier;
    printed(
        curve.lower[0].unwrap(),
        (0.9_f64.ln() * 1.960870_f64.exp()).exp(),
        4,
    );
    printed(
        curve.upper[0].unwrap(),
        (0.9_f64.ln() * (-1.960870_f64).exp()).exp(),
        4,
    );
}

/// Steps of 2 atm: (18,20] 1, (20,22] 3, (22,24] 2, (24,26] 1, three stopped at 26. Weibull 8.03391, 25.03312, ln L -16.87877; normal 23.72309,
/// 3.28484, ln L -16.36571 (atm, by an independent program from the definition).
#[test]
fn families_of_a_set_known_by_steps() {
    let mut runs = arm("metal", &in_kpa(&METAL), &[26.0 * ATM; 3]);
    for run in runs.iter_mut().take(7) {
        let onset = run.events[0].pressure.value.unwrap() / ATM;
        let above = 2.0 * ((onset - 1e-9) / 2.0).floor();
        let ends = (above * ATM, Some((above + 2.0) * ATM));
        by_definition(run, PressureDefinition::LastCompletedStep, ends.0, ends.1);
    }
    let by_step = Series {
        definition: PressureDefinition::LastCompletedStep,
        ..Series::default()
    };
    let group = &groups(&runs, &by_step, &Settings::default())[0];
    let (weibull, normal) = (family(group, "weibull"), family(group, "normal"));
    assert_eq!((weibull.by_step, weibull.failures, weibull.n), (7, 7, 10));
    let value = |s: &hooptrace::recording::StrengthResult, i: usize| {
        s.parameters[i].interval.value.unwrap()
    };
    printed(value(&weibull, 1), 8.03391, 4);
    printed(value(&weibull, 0) / ATM, 25.03312, 4);
    printed(weibull.log_likelihood, -16.87877, 5);
    printed(value(&normal, 0) / ATM, 23.72309, 4);
    printed(value(&normal, 1) / ATM, 3.28484, 4);
    printed(normal.log_likelihood, -16.36571, 5);
    printed(
        group.weibull.as_ref().unwrap().shape.value.unwrap(),
        8.03391,
        4,
    );
    // Turnbull without overlap: shares at the upper ends of the steps.
    for (survival, expected) in group
        .kaplan_meier
        .surviving
        .iter()
        .zip([0.9, 0.6, 0.4, 0.3])
    {
        printed(*survival, expected, 9);
    }
    // No mean of what is known by steps only, and no tolerance limits.
    assert!(group.fracture_pressure.mean.value.is_none() && group.tolerance.is_empty());
    says(&group.remarks, "interval-censored");
}

/// Fracture set: mean 9.39, s 0.458136, one-sided upper limit 95/95 10.72362, on the scale of logarithms 10.80119 atm (k = 2.9110, ISO 16269-6).
#[test]
fn values_with_limits_on_every_scale() {
    let group = only(&arm("moulded", &in_kpa(&MOULDED), &[]));
    let value = &group.values[0];
    assert_eq!(
        (value.quantity.as_str(), value.n),
        ("fracture_pressure", 10)
    );
    let upper = |scale: &str| {
        let mut of = value.tolerance.iter();
        let of = of
            .find(|t| t.scale == scale && t.coverage == 0.95 && t.sides == 1 && t.upper.is_some());
        of.map(|t| t.upper.unwrap() / ATM)
    };
    printed(upper("normal").unwrap(), 10.72362, 4);
    printed(upper("lognormal").unwrap(), 10.80119, 4);
    // Ten values are too few for order statistics: 59 are needed.
    assert_eq!(upper("order statistics"), None);
    // Median of ten: exact limits are the second and the ninth value, 97.9 % (binomial: 2·11/1024 = 0.0215 outside).
    printed(value.median.lower.unwrap() / ATM, 8.9, 9);
    printed(value.median.upper.unwrap() / ATM, 9.9, 9);
    let normality = value.normality.unwrap();
    assert!(normality.w > 0.9 && normality.p > 0.05);
    assert!(
        only(&arm("metal", &in_kpa(&METAL), &[2600.0]))
            .values
            .is_empty()
    );
}

/// Two samples from a textbook of the t-test (Student's sleep data, 1908, as two groups): means 0.75 and 2.33, t = 1.8608, 17.776 degrees of
/// freedom, p = 0.07939, interval of the difference -0.2055 to 3.3655; as pairs t = 4.0621, p = 0.002833, interval 0.7001 to 2.4599
/// (as printed in the manual of a statistics language).
#[test]
fn two_groups_and_two_states_of_the_same_frames() {
    const FIRST: [f64; 10] = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    const SECOND: [f64; 10] = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
    let made = |name: &str, values: &[f64]| -> Vec<RunResult> {
        values
            .iter()
            .enumerate()
            .map(|(i, v)| {
                let made = fractured(&format!("{name}{i}"), name, 900.0 + i as f64);
                with_diameters(made, 0.1, 20.0 + v, 0.1)
            })
            .collect()
    };
    let mut runs = made("a", &FIRST);
    runs.extend(made("b", &SECOND));
    let mut series = Series::default();
    let all = compared(&runs, &series);
    let after = "diameters.after";
    let welch = find(&all, "welch", after);
    printed(welch.statistic.unwrap(), 1.8608, 4);
    printed(welch.df.unwrap(), 17.776, 3);
    printed(welch.p.unwrap(), 0.07939, 5);
    let estimate = welch.estimate.as_ref().unwrap();
    printed(estimate.value.unwrap(), 1.58, 9);
    printed(estimate.lower.unwrap(), -0.2054832, 6);
    printed(estimate.upper.unwrap(), 3.3654832, 6);
    assert_eq!(welch.groups, ["a", "b"]);
    assert!(find(&all, "mann-whitney", after).p.unwrap() > 0.05);
    assert!(find(&all, "hodges-lehmann", after).estimate.is_some());
    let drawn = find(&all, "bootstrap", after);
    assert!(drawn.method.contains("seed 1"), "{}", drawn.method);
    assert!(
        !all.iter().any(|c| c.name == "equivalence"),
        "nobody declared a margin"
    );
    // 90 % interval of the difference (-0.054 to 3.214 by t(17.776, 0.95) = 1.7358) lies within 4 mm, not within 2 mm.
    for (margin, word) in [(4.0, ": equivalent"), (2.0, "not shown")] {
        series.equivalence_mm = Some(margin);
        let all = compared(&runs, &series);
        let test = find(&all, "equivalence", after);
        assert!(test.method.contains(word), "{}", test.method);
        assert_eq!(test.p.unwrap() < 0.05, margin == 4.0);
    }
    // One run has no scatter of its own: no test, but the reason.
    let all = compared(&runs[9..], &series);
    for name in ["welch", "equivalence", "bootstrap"] {
        let test = find(&all, name, after);
        assert!(test.p.is_none() && test.estimate.is_none());
        assert!(
            test.method.contains("not told, values: at least"),
            "{}",
            test.method
        );
    }
    // The same values as one frame each, without and with an inner valve.
    for (i, run) in runs.iter_mut().enumerate() {
        run.arm = None;
        run.frame_id = Some(format!("F{}", i % 10));
        run.inner_valve = (i >= 10).then(|| "IV-23".to_owned());
    }
    let all = compared(&runs, &Series::default());
    let pairs = find(&all, "paired-t", after);
    assert_eq!(pairs.groups, ["no inner valve", "inner valve"]);
    printed(pairs.statistic.unwrap(), 4.0621, 4);
    printed(pairs.p.unwrap(), 0.002833, 6);
    let pairs_p = pairs.p;
    let estimate = pairs.estimate.as_ref().unwrap();
    printed(estimate.lower.unwrap(), 0.7001142, 6);
    printed(estimate.upper.unwrap(), 2.4598858, 6);
    assert!(find(&all, "signed-rank", after).p.unwrap() < 0.05);
    // Every frame had broken in its first run: the pairs say so, and name them; whole frames they do not speak of.
    let broken =
        "10 of the 10 frames dilated both ways had broken before the second of the two (F0 in run ";
    assert!(pairs.method.contains(broken), "{}", pairs.method);
    let mut whole = runs.clone();
    for run in &mut whole[1..10] {
        run.outcome = Outcome::Stretched;
    }
    let all_whole = compared(&whole, &Series::default());
    let one = &find(&all_whole, "paired-t", after).method;
    assert!(
        one.contains("1 of the 10 frames dilated both ways had broken"),
        "{one}"
    );
    whole[0].outcome = Outcome::Stretched;
    let none = compared(&whole, &Series::default());
    assert!(!find(&none, "paired-t", after).method.contains("broken"));
    // Frames that were dilated one way only are compared beside the pairs, and what they mix is told.
    for (name, valve, construction) in [
        ("p", None, "moulded-ring"),
        ("q", None, "wire-form"),
        ("r", Some("IV-23"), "moulded-ring"),
        ("s", Some("IV-23"), "moulded-ring"),
    ] {
        let mut one = with_diameters(fractured(name, "a", 900.0), 0.1, 21.0, 0.1);
        one.arm = None;
        one.frame_id = Some(name.to_owned());
        one.inner_valve = valve.map(str::to_owned);
        one.setup.construction = Some(construction.to_owned());
        runs.push(one);
    }
    let all = compared(&runs, &Series::default());
    let apart = all
        .iter()
        .find(|c| c.name == "mann-whitney" && c.groups == ["no inner valve", "inner valve"]);
    assert!(apart.is_some() && find(&all, "paired-t", after).p == pairs_p);
    let told = mixed(&runs, &Series::default());
    let held = "the group no inner valve holds different constructions: moulded-ring, wire-form";
    assert!(told.iter().any(|f| f.message == held), "{told:?}");
    runs.truncate(20);
    // Grouped by the inner valve they are two groups, of runs that are not independent.
    let by_valve = self::series(&["inner_valve"]);
    let all = compared(&runs, &by_valve);
    assert_eq!(
        find(&all, "welch", after).groups,
        ["IV-23", "no inner valve"]
    );
    assert!(
        mixed(&runs, &Series::default())
            .iter()
            .any(|f| f.message.contains("inner valve"))
    );
}

/// One pair has no scatter, and pairs that all differ alike have none either: the tests say so. One value has no limits, with the reason.
#[test]
fn what_too_few_values_do_not_tell_has_its_reason() {
    use hooptrace::uncertain::Quantity;
    let pair = |k: usize, after: f64| {
        let name = format!("r{k}");
        let mut made = with_diameters(fractured(&name, "a", 900.0 + k as f64), 0.1, after, 0.1);
        if let Some(diameters) = &mut made.diameters {
            diameters.before = Quantity::known(after - 2.0, 0.1, "mm", "made for a test");
        }
        made
    };
    let runs = vec![pair(0, 22.0), pair(1, 23.0), pair(2, 25.0)];
    let change = "diameters, before to after";
    let one = compared(&runs[..1], &Series::default());
    for (name, why) in [
        (
            "paired-t",
            "1 pair of the same frame (paired t): not told, values: at least 2",
        ),
        (
            "paired-shift",
            "not told, pairs: at least 2 needed, 1 given",
        ),
    ] {
        let test = find(&one, name, change);
        assert!(test.p.is_none() && test.estimate.is_none());
        assert!(test.method.contains(why), "{}", test.method);
    }
    let alike = compared(&runs, &Series::default());
    let test = find(&alike, "paired-t", change);
    assert!(
        test.method
            .contains("(paired t): not told, the values do not differ"),
        "{}",
        test.method
    );
    let after = |runs: &[RunResult]| {
        let group = only(runs);
        let mut values = group.values.into_iter();
        values.find(|v| v.quantity == "diameters.after").unwrap()
    };
    let single = after(&runs[..1]);
    assert!(single.sd.is_none() && single.normality.is_none() && single.tolerance.is_empty());
    for what in ["Standard deviation", "Normality", "Tolerance limits"] {
        says(
            &single.remarks,
            &format!("{what}: not told, values: at least"),
        );
    }
    let alike = vec![pair(0, 22.0), pair(1, 22.0), pair(2, 22.0)];
    let same = after(&alike);
    assert_eq!(same.remarks.len(), 1, "{:?}", same.remarks);
    says(
        &same.remarks,
        "no check of normality and no tolerance limits",
    );
    let enough = after(&runs);
    assert!(enough.normality.is_some() && !enough.tolerance.is_empty());
}

/// Three recoils of 0.01, 0.2 and 0.6 give lognormal limits far above 1, where no recoil is; a negative one has no logarithm.
#[test]
fn limits_that_cannot_be_are_doubted() {
    let recoils = |values: [f64; 3]| {
        let made = |(k, value): (usize, f64)| {
            let name = format!("r{k}");
            let mut made = with_diameters(fractured(&name, "a", 900.0 + k as f64), 0.1, 22.0, 0.1);
            if let Some(diameters) = &mut made.diameters {
                diameters.recoil =
                    hooptrace::uncertain::Quantity::known(value, 0.001, "1", "made for a test");
            }
            made
        };
        let runs: Vec<RunResult> = values.into_iter().enumerate().map(made).collect();
        let mut found = only(&runs).values.into_iter();
        found.find(|v| v.quantity == "diameters.recoil").unwrap()
    };
    let wide = recoils([0.01, 0.2, 0.6]);
    assert!(
        wide.tolerance
            .iter()
            .any(|t| t.upper.is_some_and(|u| u > 1.0))
    );
    says(
        &wide.remarks,
        "The lognormal limits reach above 1, where diameters.recoil cannot be",
    );
    let small = recoils([1e-9, 1e-8, 2e-8]);
    says(&small.remarks, "more than 10 times beyond every value seen");
    let negative = recoils([-0.01, 0.02, 0.03]);
    says(
        &negative.remarks,
        "Lognormal limits: not told, 1 of 3 values are not above zero",
    );
    let close = recoils([0.0201, 0.02, 0.0202]);
    assert!(close.remarks.is_empty(), "{:?}", close.remarks);
}

/// Shares 1 of 10 and 8 of 10: the hypergeometric tables no more likely than that seen, by hand.
#[test]
fn shares_of_two_groups() {
    let mut runs = arm("a", &[900.0], &[1500.0; 9]);
    runs.extend(arm(
        "b",
        &[900.0, 910.0, 920.0, 930.0, 940.0, 950.0, 960.0, 970.0],
        &[1500.0; 2],
    ));
    let all = compared(&runs, &Series::default());
    let test = find(&all, "fisher", "fractured");
    // C(10,x) C(10,9-x)/C(20,9): x = 0, 1 and x = 8, 9: 2 (10 + 10·45)/167960.
    printed(test.p.unwrap(), 2.0 * (10.0 + 450.0) / 167_960.0, 9);
    assert!(test.method.contains("1 of 10 against 8 of 10"));
}

/// Balloons that end runs compete. Fractures at 10 and 30, a burst at 20, one frame whole at 40: incidence of fracture 1/4 + 3/4·2/3·1/2 = 1/2,
/// of burst 3/4·1/3 = 1/4 (by hand); one less the product limit would give 1 - 3/4·1/2 = 0.625.
#[test]
fn balloons_that_end_runs_compete() {
    let mut runs = arm("a", &[10.0, 30.0], &[40.0]);
    runs.push(run("early", "a", Outcome::Burst, 20.0));
    let found = only(&runs).incidence.unwrap();
    assert_eq!(found.causes[..2], ["fracture", "burst"]);
    assert_eq!(found.runs[..2], [2, 1]);
    printed(*found.share[0].last().unwrap(), 0.5, 12);
    printed(*found.share[1].last().unwrap(), 0.25, 12);
    assert!(only(&arm("a", &[10.0, 30.0], &[40.0])).incidence.is_none());
}
