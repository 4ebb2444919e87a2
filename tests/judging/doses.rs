//! Fracture as pass or fail at a chosen load: curves of dose, and staircases.

use super::{ATM, compared, find, fractured, only, printed, run, says, series};
use hooptrace::judge::groups;
use hooptrace::recording::{Outcome, RunResult};
use hooptrace::rig::{Series, Settings, Staircase};

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
