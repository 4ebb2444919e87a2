//! What else was seen over the runs of an arm: numbers, counts, grades, yes and no.

use super::{arm, grouped, only, printed};
use hooptrace::judge::comparisons;
use hooptrace::read::tables_from_bytes;
use hooptrace::recording::{Group, ObservationKind, ObservationSummary, RunResult};
use hooptrace::rig::Series;

/// Five runs of an arm with rows of `observations.csv`; run k is named `A-k`.
fn group(rows: &str) -> Group {
    only(&with_rows(
        arm("A", &[900.0, 950.0, 1000.0], &[1100.0, 1200.0]),
        rows,
    ))
}

/// Gives runs their rows of `observations.csv`.
fn with_rows(mut runs: Vec<RunResult>, rows: &str) -> Vec<RunResult> {
    let listed = runs.iter().fold(String::new(), |text, run| {
        text + &run.run_id
            + ",frame
"
    });
    let files = [
        ("runs.csv", format!("run_id,kind\n{listed}")),
        (
            "observations.csv",
            format!("run_id,stage,what,value,unit,observer\n{rows}"),
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

fn named<'g>(group: &'g Group, name: &str, kind: ObservationKind) -> &'g ObservationSummary {
    let mut all = group.observations.iter();
    all.find(|o| o.name == name && o.kind == kind).unwrap()
}

#[test]
fn numbers_of_an_arm() {
    // One run has two values, which count once: 0.4, 0.5, 0.9 mm; mean 0.6, sd 0.2646, t(0.975; 2) = 4.302653 (printed tables).
    let group = group(
        "A-0,after,wall clearance,0.3,mm,a\nA-0,after,wall clearance,0.5,mm,b\n\
         A-1,after,wall clearance,500,um,a\nA-2,after,wall clearance,0.9,mm,a\n\
         A-3,after,wall clearance,wide,mm,a\nA-4,before,wall clearance,2,mm,a\n",
    );
    let after = &group.observations[1];
    assert_eq!((after.n, after.without), (3, 2), "{group:?}");
    let number = after.number.as_ref().unwrap();
    printed(number.mean.value.unwrap(), 0.6, 12);
    printed(number.sd.unwrap(), 0.264575131, 9);
    printed(number.median, 0.5, 12);
    assert_eq!(
        (number.min, number.max, number.unit.as_str()),
        (0.4, 0.9, "mm")
    );
    let half = 4.302652730 * 0.264575131 / 3f64.sqrt();
    printed(number.mean.upper.unwrap(), 0.6 + half, 8);
    // Another stage is another observation; a single value has no scatter and no limits.
    let before = &group.observations[0];
    assert_eq!(before.n, 1);
    let number = before.number.as_ref().unwrap();
    assert_eq!((number.sd, number.mean.upper), (None, None));
    assert!(
        number.mean.method.contains("no limits"),
        "{}",
        number.mean.method
    );
}

#[test]
fn counts_of_an_arm() {
    // Pieces of one observer add up, of two the higher sum counts: 3, 0 and 7 pieces. Garwood's limits of 10: 4.795389 and 18.390356.
    let group = group(
        "A-0,after,captured debris,1,count,a\nA-0,after,captured debris,2,count,a\n\
         A-0,after,captured debris,2,count,b\nA-1,after,captured debris,0,count,a\n\
         A-2,after,captured debris,7,count,a\nA-3,after,captured debris,yes,,a\n\
         A-4,after,captured debris,12,mg,a\n",
    );
    let numbers: Vec<&ObservationSummary> = group
        .observations
        .iter()
        .filter(|o| o.kind == ObservationKind::Number)
        .collect();
    assert_eq!(numbers.len(), 2, "pieces and masses stay apart");
    let counts = numbers.iter().find(|o| o.rate.is_some()).unwrap();
    let rate = counts.rate.as_ref().unwrap();
    printed(rate.value.unwrap(), 10.0 / 3.0, 12);
    printed(rate.lower.unwrap(), 4.795389 / 3.0, 6);
    printed(rate.upper.unwrap(), 18.390356 / 3.0, 6);
    let yes = named(&group, "captured debris", ObservationKind::YesNo);
    assert_eq!((yes.n, yes.share.as_ref().unwrap().yes), (1, 1));
}

#[test]
fn grades_and_shares_of_an_arm() {
    let group = group(
        "A-0,after,leaflet grade,none,,a\nA-0,after,leaflet grade,mild,,b\n\
         A-1,after,leaflet grade,none,,a\nA-2,after,leaflet grade,severe,,a\n\
         A-3,after,leaflet grade,mild,,a\n\
         A-0,after,ring broken,yes,,a\nA-1,after,ring broken,no,,a\nA-1,after,ring broken,no,,b\n",
    );
    let grades = named(&group, "leaflet grade", ObservationKind::Grade);
    let summary = grades.grades.as_ref().unwrap();
    let counts: Vec<(&str, usize)> = summary
        .counts
        .iter()
        .map(|(g, n)| (g.as_str(), *n))
        .collect();
    assert_eq!(counts, [("mild", 2), ("none", 1), ("severe", 1)]);
    assert_eq!(summary.median.as_deref(), Some("mild"));
    assert!(grades.number.is_none(), "grades are not averaged");
    let share = named(&group, "gap of the broken ring", ObservationKind::YesNo);
    let share = share.share.as_ref().unwrap();
    assert_eq!(share.yes, 1);
    // Clopper-Pearson, 1 of 2: 1 - sqrt(0.975) and sqrt(0.975).
    printed(share.share.lower.unwrap(), 1.0 - 0.975f64.sqrt(), 9);
    printed(share.share.upper.unwrap(), 0.975f64.sqrt(), 9);
    // Two in the middle that differ have no mean.
    let even = self::group("A-0,after,leaflet grade,none,,a\nA-1,after,leaflet grade,mild,,a\n");
    let even = named(&even, "leaflet grade", ObservationKind::Grade);
    let middle = even.grades.as_ref().unwrap().median.as_deref();
    assert_eq!(middle, Some("none to mild"));
    // Nobody said which number is which word.
    let mixed = self::group("A-0,after,leaflet grade,2,,a\nA-1,after,leaflet grade,mild,,a\n");
    let mixed = named(&mixed, "leaflet grade", ObservationKind::Grade);
    assert_eq!(mixed.grades.as_ref().unwrap().median, None);
}

/// Words against words are compared; words against numbers never, since nobody said which number is which word.
#[test]
fn grades_of_two_scales_are_not_compared() {
    let tests = |of_b: [&str; 3]| {
        let mut runs = arm("A", &[900.0, 950.0, 1000.0], &[]);
        runs.extend(arm("B", &[900.0, 950.0, 1000.0], &[]));
        let mut rows = String::new();
        for (i, (a, b)) in ["none", "mild", "mild"].into_iter().zip(of_b).enumerate() {
            for (group, grade) in [("A", a), ("B", b)] {
                rows += &[
                    group,
                    "-",
                    &i.to_string(),
                    ",after,leaflet grade,",
                    grade,
                    ",,x\n",
                ]
                .concat();
            }
        }
        let runs = with_rows(runs, &rows);
        let mut all = comparisons(&runs, &Series::default(), &grouped(&runs), 0.95);
        all.retain(|test| test.quantity.contains("leaflet grade"));
        assert_eq!(all.len(), 2, "{all:?}");
        all
    };
    assert!(
        tests(["mild", "severe", "severe"])
            .iter()
            .all(|t| t.p.is_some())
    );
    for test in tests(["1", "3", "3"]) {
        assert!(test.p.is_none() && test.chi2.is_none() && test.statistic.is_none());
        assert!(
            test.method
                .contains("not told, some grades are words and others are numbers"),
            "{}",
            test.method
        );
    }
}

/// Nothing counted in five runs against nothing in five: no test, and rates of at most −ln(0.025)/5 = 0.7377759 a run (by hand) with 95 %.
#[test]
fn no_pieces_in_two_arms_have_an_interval_and_no_test() {
    let mut runs = arm("A", &[900.0, 950.0, 1000.0], &[1100.0, 1200.0]);
    runs.extend(arm("B", &[900.0, 950.0, 1000.0], &[1100.0]));
    let rows: Vec<String> = runs
        .iter()
        .map(|run| format!("{},after,captured debris,0,count,a\n", run.run_id))
        .collect();
    let rows = rows.concat();
    let runs = with_rows(runs, &rows);
    let all = comparisons(&runs, &Series::default(), &grouped(&runs), 0.95);
    let found = all.iter().find(|c| c.name == "poisson-rates").unwrap();
    assert!(found.p.is_none() && found.method.contains("0 in 5 runs against 0 in 4; no test"));
    let estimate = found.estimate.as_ref().unwrap();
    assert_eq!(
        (estimate.value, estimate.unit.as_str()),
        (Some(0.0), "count a run")
    );
    printed(estimate.lower.unwrap(), -0.737_775_9, 7);
    printed(estimate.upper.unwrap(), 0.922_219_9, 7);
}
