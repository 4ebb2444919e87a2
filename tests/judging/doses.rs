//! Fracture as pass or fail at a chosen load: curves of dose, and staircases.

use super::{ATM, compared, find, fractured, only, printed, run, says, series};
use hooptrace::judge::groups;
use hooptrace::recording::Place;
use hooptrace::recording::{Outcome, RunResult};
use hooptrace::rig::{DoseColumn, Series, Settings, Staircase};
use hooptrace::units::find as unit;

fn oversized(mm: f64, i: usize, broke: bool) -> RunResult {
    let name = format!("o{i}");
    let mut made = if broke {
        fractured(&name, "a", 900.0)
    } else {
        run(&name, "a", Outcome::Stretched, 900.0)
    };
    made.frame = Some(super::frame_with_oversize(mm));
    made
}

/// Probit of levels 8 to 12, ten each, fractures 1 3 5 8 9: mean 9.891788, sd 1.534267, 90 % 11.858030 (by an independent program).
#[test]
fn fracture_against_oversize() {
    let mut runs = Vec::new();
    for (level, failures) in [(8.0, 1), (9.0, 3), (10.0, 5), (11.0, 8), (12.0, 9)] {
        for k in 0..10 {
            runs.push(oversized(level, runs.len(), k < failures));
        }
    }
    let group = only(&runs);
    let probit = |estimate: &str| {
        let mut all = group.dose.iter();
        all.find(|d| d.curve == "probit" && d.estimate == estimate)
            .unwrap()
    };
    let likely = probit("maximum likelihood");
    printed(likely.ed50.value.unwrap(), 9.891788, 5);
    printed(likely.spread.value.unwrap(), 1.534267, 5);
    printed(likely.ed90.value.unwrap(), 11.858030, 4);
    assert!(likely.separation.is_none() && likely.ed50.lower < likely.ed50.value);
    assert_eq!(group.dose.len(), 4);
    // Classes of oversize are ordered: their trend is a comparison.
    let all = compared(&runs, &series(&["oversize"]));
    let trend = find(&all, "cochran-armitage", "fractured");
    assert!(trend.p.unwrap() < 0.001 && trend.statistic.unwrap() > 0.0);
    assert_eq!(trend.groups.len(), 5);
    // Separated: only the bias-reduced fits stand, and they say so.
    let apart: Vec<RunResult> = (0..8)
        .map(|i| oversized(1.0 + 0.5 * i as f64, i, i > 3))
        .collect();
    let apart = only(&apart);
    assert!(apart.dose.iter().all(|d| d.estimate == "bias-reduced") && apart.dose.len() == 2);
    assert_eq!(apart.dose[0].separation, Some((2.5, 3.0)));
    says(&apart.dose[0].remarks, "Separated");
    // A frame loaded twice is no new frame.
    runs[1].frame_id = runs[0].frame_id.clone();
    assert!(only(&runs).dose.is_empty());
}

/// A staircase of 1 atm with fractures (less frequent) 2, 3, 2 at three neighbouring levels from 9 atm: mean 9.5, sd 0.972694 atm (Dixon & Mood,
/// N 7, A 7, B 11).
#[test]
fn a_staircase_is_evaluated_or_refused() {
    // Down after a fracture, up after none, from 10 atm: fractures at 10, 11, 10, 11, 10, 9, 9 and passes between.
    let path = [
        (10, true),
        (9, false),
        (10, false),
        (11, true),
        (10, true),
        (9, true),
        (8, false),
        (9, true),
        (8, false),
        (9, false),
        (10, false),
        (11, true),
        (10, true),
        (9, false),
    ];
    let runs: Vec<RunResult> = path
        .iter()
        .enumerate()
        .map(|(i, &(atm, broke))| {
            let kpa = f64::from(atm) * ATM;
            let name = format!("s{i}");
            if broke {
                fractured(&name, "a", kpa - 20.0)
            } else {
                run(&name, "a", Outcome::Unchanged, kpa)
            }
        })
        .collect();
    let plan = Series {
        up_and_down: Some(Staircase {
            start_kpa: 10.0 * ATM,
            step_kpa: ATM,
        }),
        ..Series::default()
    };
    let staircase = |runs: &[RunResult]| {
        groups(runs, &plan, &Settings::default())[0]
            .up_and_down
            .clone()
            .unwrap()
    };
    let found = staircase(&runs);
    assert_eq!(
        (found.counted.as_str(), found.count),
        ("fractures", 7),
        "{found:?}"
    );
    assert!(found.mean.u.is_none() && found.mean.reason.is_some());
    printed(found.mean.value.unwrap() / ATM, 9.5, 9);
    printed(found.sd_kpa.unwrap() / ATM, 0.972694, 6);
    // The same levels as a logit curve of pressure: 9.5 atm (962.58750 kPa), spread 61.749150 kPa, nine in ten at 1098.26425 kPa (scipy 1.17.1,
    // the likelihood from its definition).
    let doses = groups(&runs, &plan, &Settings::default())[0].dose.clone();
    let logit = doses
        .iter()
        .find(|d| (d.quantity.as_str(), d.curve.as_str()) == ("pressure", "logit"))
        .unwrap();
    assert_eq!(
        (logit.unit.as_str(), logit.n, logit.fractured),
        ("kPa", 14, 7)
    );
    printed(logit.ed50.value.unwrap(), 962.587_50, 4);
    printed(logit.spread.value.unwrap(), 61.749_150, 4);
    printed(logit.ed90.value.unwrap(), 1_098.264_25, 3);
    let mut again = runs.clone();
    again[3].frame_id = again[0].frame_id.clone();
    let refused = staircase(&again);
    assert!(refused.mean.value.is_none() && refused.method.contains("used more than once"));
    let mut higher = runs.clone();
    higher[1].highest_pressure.value = Some(10.0 * ATM);
    assert!(
        staircase(&higher)
            .method
            .contains("s1 should have been loaded")
    );
    assert!(only(&runs).up_and_down.is_none());
}

fn planned(column: &str) -> Series {
    let (name, symbol) = column.rsplit_once('_').unwrap();
    Series {
        fracture_against: Some(DoseColumn {
            column: column.to_owned(),
            name: name.replace('_', " "),
            unit: unit(symbol).unwrap(),
            at: Place::file("study.toml"),
        }),
        ..Series::default()
    }
}

/// A frame planned for a level, kPa: broken a little below it, or whole after it.
fn planned_for(kpa: f64, i: usize, broke: bool) -> RunResult {
    let name = format!("p{i}");
    let mut made = if broke {
        fractured(&name, "a", 0.97 * kpa)
    } else {
        run(&name, "a", Outcome::Stretched, kpa)
    };
    made.setup.planned_dose = Some(kpa);
    made
}

/// Eight frames at each of 8 to 12 atm, of which 1, 2, 4, 7 and 7 broke. Curves by statsmodels 0.15.0 (`GLM`, binomial), limits of the pressure for
/// one half from the profile of the same likelihood by scipy 1.17.1.
#[test]
fn fracture_against_a_planned_pressure() {
    let mut runs = Vec::new();
    for (atm, broken) in [(8.0, 1), (9.0, 2), (10.0, 4), (11.0, 7), (12.0, 7)] {
        for k in 0..8 {
            runs.push(planned_for(atm * ATM, runs.len(), k < broken));
        }
    }
    let by = planned("planned_pressure_atm");
    let of = |runs: &[RunResult]| groups(runs, &by, &Settings::default()).remove(0);
    let group = of(&runs);
    for (curve, half, nine_in_ten, spread, lower, upper) in [
        (
            "logit",
            999.048_278,
            1_196.548_062,
            89.886_025,
            919.424_741,
            1_074.589_043,
        ),
        (
            "probit",
            999.544_751,
            1_197.353_218,
            154.350_767,
            918.870_744,
            1_074.958_114,
        ),
    ] {
        let found = group
            .dose
            .iter()
            .find(|d| d.curve == curve && d.estimate == "maximum likelihood")
            .unwrap();
        assert_eq!(
            (
                found.quantity.as_str(),
                found.unit.as_str(),
                found.n,
                found.fractured
            ),
            ("planned_pressure", "kPa", 40, 21)
        );
        printed(found.ed50.value.unwrap(), half, 4);
        printed(found.ed90.value.unwrap(), nine_in_ten, 3);
        printed(found.spread.value.unwrap(), spread, 4);
        printed(found.ed50.lower.unwrap(), lower, 3);
        printed(found.ed50.upper.unwrap(), upper, 3);
        says(
            &found.remarks,
            "Planned pressure is the level fixed before the run",
        );
    }
    // A column that is called as the levels of a staircase are keeps a name of its own.
    let plain = groups(&runs, &planned("pressure_atm"), &Settings::default()).remove(0);
    assert!(plain.dose.iter().all(|d| d.quantity == "planned_pressure"));
    // Without the key there is no such curve, and where no run has a number it says so.
    assert!(only(&runs).dose.is_empty());
    for made in &mut runs {
        made.setup.planned_dose = None;
    }
    let bare = of(&runs);
    assert!(bare.dose.is_empty());
    says(&bare.remarks, "no run has a number in that column");
}

/// What a run says of its level follows from the pressures, not from its outcome alone.
#[test]
fn a_run_that_missed_its_planned_pressure_is_told() {
    let mut runs: Vec<RunResult> = (0..8)
        .map(|i| {
            planned_for(
                (8.0 + 0.5 * f64::from(i)) * ATM,
                i as usize,
                i > 3 && i != 5,
            )
        })
        .collect();
    let by = planned("planned_pressure_atm");
    let of = |runs: &[RunResult]| groups(runs, &by, &Settings::default()).remove(0);
    let counts = |runs: &[RunResult]| {
        let dose = &of(runs).dose[0];
        (dose.n, dose.fractured)
    };
    assert_eq!(counts(&runs), (8, 3));
    // Whole, but never at its level: it says nothing.
    runs[0].highest_pressure.value = Some(7.0 * ATM);
    assert_eq!(counts(&runs), (7, 3));
    says(&of(&runs).remarks, "1 run left out, which neither held");
    // Broke well beyond its level: it held the level.
    runs[7] = fractured("p7", "a", 13.0 * ATM);
    runs[7].setup.planned_dose = Some(11.5 * ATM);
    assert_eq!(counts(&runs), (7, 2));
    says(
        &of(&runs).remarks,
        "1 run counted as whole, which broke beyond the level after holding it (p7)",
    );
    // The balloon burst at the level: the frame had held it. It burst before: nothing is known.
    runs[1].outcome = Outcome::Burst;
    assert_eq!(counts(&runs), (7, 2));
    runs[1].highest_pressure.value = Some(6.0 * ATM);
    assert_eq!(counts(&runs), (6, 2));
    // Without a number in the column.
    runs[5].setup.planned_dose = None;
    assert_eq!(counts(&runs), (5, 2));
    says(
        &of(&runs).remarks,
        "1 run without a number in that column left out (p5)",
    );
    // A level that is no pressure takes runs as they ended, but for what the balloon ended.
    let thickness = planned("band_thickness_mm");
    let found = groups(&runs, &thickness, &Settings::default()).remove(0);
    assert_eq!(
        (
            found.dose[0].n,
            found.dose[0].fractured,
            found.dose[0].unit.as_str()
        ),
        (6, 3, "mm")
    );
    says(
        &found.remarks,
        "1 run left out, which the balloon ended (p1)",
    );
}
