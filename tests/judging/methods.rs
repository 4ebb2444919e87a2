//! Agreement of methods and gauge studies from the tables and runs of a study.

use super::{none, printed, quantity, run, says, with_diameters};
use hooptrace::judge::{agreements, gauge_studies};
use hooptrace::read::tables_from_bytes;
use hooptrace::recording::{CaliperRow, GaugeStudy, Outcome, RunResult};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// A frame with its diameters: name, and stage, caliper and outline.
type Frame<'a> = (&'a str, &'a [(&'a str, f64, f64)]);

/// Readings as the table holds them.
fn readings(rows: &str) -> Vec<CaliperRow> {
    let files = [
        (
            "runs.csv",
            "run_id,kind\nP1,frame\nP2,frame\nP3,frame\n".to_owned(),
        ),
        (
            "calipers.csv",
            format!("run_id,stage,method,orientation_deg,repeat,operator,value,unit\n{rows}"),
        ),
    ]
    .map(|(name, text)| (name.to_owned(), text.into_bytes()));
    tables_from_bytes(&files, None).unwrap().0.calipers
}

/// Three rings, two operators, two repeats (mm).
const RINGS: [(&str, [[f64; 2]; 2]); 3] = [
    ("P1", [[21.50, 21.52], [21.53, 21.55]]),
    ("P2", [[22.01, 22.00], [22.05, 22.04]]),
    ("P3", [[21.80, 21.81], [21.82, 21.84]]),
];

/// The rings read at two angles; the ring is oval, so that only the mean of a round repeats.
fn crossed() -> String {
    let mut rows = String::new();
    for (part, operators) in RINGS {
        for (name, values) in ["ada", "ben"].iter().zip(operators) {
            for (repeat, value) in values.iter().enumerate() {
                // 205° is the angle of 25°.
                let angle = if repeat == 0 { 25 } else { 205 };
                let _ = write!(
                    rows,
                    "{part},before,caliper,{angle},{k},{name},{:.2},mm\n{part},before,caliper,115,{k},{name},{:.2},mm\n",
                    value + 0.3,
                    value - 0.3,
                    k = repeat + 1
                );
            }
        }
    }
    rows
}

fn caliper(rows: &str, tolerance: Option<f64>) -> GaugeStudy {
    let mut all = gauge_studies(&readings(rows), tolerance, 0.95);
    assert_eq!(all.len(), 1);
    all.remove(0)
}

/// The worked example of the definitions: pooled %SV 9.6401, categories 14.
#[test]
fn a_crossed_study_of_calipers() {
    let study = caliper(&crossed(), Some(0.6));
    assert_eq!(study.reason, None);
    assert_eq!(study.operators, ["ada", "ben"]);
    assert_eq!(
        (study.parts.len(), study.repeats, study.orientations),
        (3, 2, 2)
    );
    let used = study.models.iter().find(|model| model.used).unwrap();
    assert!(!used.interaction);
    let gauge = used.components.iter().find(|c| c.name == "gauge").unwrap();
    printed(gauge.sd_mm, 0.0243242, 7);
    printed(gauge.study_variation_percent.unwrap(), 9.6401, 4);
    printed(gauge.tolerance_percent.unwrap(), 24.3242, 4);
    assert_eq!(used.categories, Some(14));
    let other = study.models.iter().find(|model| !model.used).unwrap();
    let gauge = other.components.iter().find(|c| c.name == "gauge").unwrap();
    printed(gauge.tolerance_percent.unwrap(), 24.83, 2);
    says(&study.remarks, "pooled");
    says(&study.remarks, "a frame breaks once");
    // A stage that one of them read alone stays out; without a tolerance there is no share of it.
    let more = format!("{}P1,after,caliper,25,1,ada,22.5,mm\n", crossed());
    let study = caliper(&more, None);
    says(
        &study.remarks,
        "1 runs and stages that one operator read alone",
    );
    says(&study.remarks, "diameter_tolerance_mm");
    let used = study.models.iter().find(|model| model.used).unwrap();
    assert!(
        used.components
            .iter()
            .all(|c| c.tolerance_percent.is_none())
    );
    assert_eq!(used.categories, Some(14));
}

#[test]
fn what_is_not_crossed_is_refused_with_the_reason() {
    let without = |drop: &dyn Fn(&str) -> bool| -> String {
        let text = crossed();
        let kept = text.lines().filter(|line| !drop(line));
        kept.fold(String::new(), |text, line| text + line + "\n")
    };
    let refused = |rows: &str, words: &str| {
        let study = caliper(rows, None);
        assert!(study.models.is_empty());
        let reason = study.reason.unwrap();
        assert!(reason.contains(words), "{reason}");
    };
    refused(
        &without(&|line| line.contains(",ben,")),
        "two named operators",
    );
    // A round of one operator is missing altogether.
    refused(
        &without(&|line| line.starts_with("P3") && line.contains(",2,ben,")),
        "P3 before has 1 of ben",
    );
    // One reading of a round is missing: the other angle has no partner.
    let study = caliper(
        &without(&|line| line.starts_with("P2,before,caliper,115,2,ada")),
        None,
    );
    says(&study.remarks, "1 readings without a partner");
    assert!(study.reason.is_some_and(|r| r.contains("not balanced")));
    // Nobody repeats.
    refused(
        &without(&|line| line.contains(",2,ada,") || line.contains(",2,ben,")),
        "repeats",
    );
    // Another pair of operators on one ring.
    let other = crossed().replace("P3,before,caliper,25,1,ben", "P3,before,caliper,25,1,cleo");
    let other = other
        .lines()
        .map(|line| {
            if line.starts_with("P3") {
                format!("{}\n", line.replace(",ben,", ",cleo,"))
            } else {
                format!("{line}\n")
            }
        })
        .collect::<String>();
    refused(
        &other,
        "P1 before was read by ada, ben, P3 before by ada, cleo",
    );
    // Other angles see another part of an oval.
    let turned: String = crossed()
        .lines()
        .map(|line| {
            if line.starts_with("P1") && line.contains(",ben,") {
                format!("{}\n", line.replace(",115,", ",70,"))
            } else {
                format!("{line}\n")
            }
        })
        .collect();
    refused(&turned, "different orientations");
    assert!(gauge_studies(&[], None, 0.95).is_empty());
}

/// Runs with diameters by method and stage.
fn measured(frames: &[Frame<'_>]) -> Vec<RunResult> {
    frames
        .iter()
        .map(|(name, stages)| {
            let made = run(name, "A", Outcome::Stretched, 900.0);
            let mut made = with_diameters(made, 0.05, 22.0, 0.1);
            let (mut caliper, mut outline) = (BTreeMap::new(), BTreeMap::new());
            for (stage, first, second) in *stages {
                caliper.insert((*stage).to_owned(), quantity(*first, "mm"));
                outline.insert((*stage).to_owned(), quantity(*second, "mm"));
            }
            outline.insert("loaded".to_owned(), none("mm"));
            let methods = &mut made.diameters.as_mut().unwrap().by_method;
            methods.insert("caliper".to_owned(), caliper);
            methods.insert("outline_area".to_owned(), outline);
            made
        })
        .collect()
}

/// The worked example: bias 0.102, limits -0.009947 and 0.213947 mm. Five frames with two stages each.
#[test]
fn calipers_and_outlines_agree() {
    let frames: [Frame<'_>; 5] = [
        ("f1", &[("before", 21.42, 21.50), ("after", 21.55, 21.71)]),
        ("f2", &[("before", 22.10, 22.12), ("after", 21.88, 22.05)]),
        ("f3", &[("before", 22.31, 22.40), ("after", 21.60, 21.66)]),
        ("f4", &[("before", 21.95, 22.12), ("after", 22.05, 22.08)]),
        ("f5", &[("before", 21.71, 21.80), ("after", 22.20, 22.35)]),
    ];
    let found = agreements(&measured(&frames), &[], 0.95);
    assert_eq!(found.len(), 1);
    let of = &found[0];
    assert_eq!(
        (of.first.as_str(), of.second.as_str()),
        ("caliper", "outline_area")
    );
    assert_eq!((of.n, of.frames, of.points.len()), (10, 5, 10));
    let pairs = of.pairs.as_ref().unwrap();
    printed(pairs.bias.value.unwrap(), 0.102, 9);
    printed(pairs.lower.value.unwrap(), -0.009947, 6);
    printed(pairs.upper.value.unwrap(), 0.213947, 6);
    printed(pairs.upper.upper.unwrap(), 0.3190954, 7);
    printed(pairs.bias.lower.unwrap(), 0.061142, 6);
    let by_frame = of.by_frame.as_ref().unwrap();
    printed(by_frame.bias.value.unwrap(), 0.102, 9);
    assert!(by_frame.sd_within_mm.is_some());
    says(&of.remarks, "10 pairs of 5 frames");
    // Both methods state the same relative uncertainty: a ratio of nearly 1.
    let line = of.deming.as_ref().unwrap();
    assert!((line.error_variance_ratio - 1.0).abs() < 0.02);
    assert!(line.slope.lower.unwrap() < 1.0 && line.slope.upper.unwrap() > 1.0);
    // By the uncertainties stated for each diameter (0.1 %): scipy 1.17.1, odr and chi2.sf.
    let line = of.stated_line.as_ref().unwrap();
    printed(line.slope.value.unwrap(), 1.005_578, 6);
    printed(line.slope.lower.unwrap(), 0.937_114, 6);
    printed(line.intercept.value.unwrap(), -0.020_037, 5);
    printed(line.chi_squared, 30.353_09, 6);
    assert_eq!(line.dof, 8);
    printed(line.p, 1.830_5e-4, 4);
    says(&of.remarks, "more than their stated uncertainties explain");
    // Without repeats nothing is said of single rounds.
    assert!(of.single_rounds.is_none());
}

/// Repeats of one method make single rounds scatter more than means.
#[test]
fn single_rounds_scatter_more() {
    let frames: [Frame<'_>; 3] = [
        ("P1", &[("before", 21.525, 21.60)]),
        ("P2", &[("before", 22.025, 22.05)]),
        ("P3", &[("before", 21.8175, 21.95)]),
    ];
    let found = agreements(&measured(&frames), &readings(&crossed()), 0.95);
    let single = found[0].single_rounds.as_ref().unwrap();
    let within = &single.within[0];
    // Mean square of the repeats 1.25e-4 mm² with 6 degrees of freedom; four rounds in each mean.
    printed(within.sd_mm, 1.25e-4f64.sqrt(), 9);
    assert_eq!((within.dof, within.rounds), (6, 4.0));
    let sd = found[0].pairs.as_ref().unwrap().sd.value.unwrap();
    printed(single.sd_mm, (sd * sd + 0.75 * 1.25e-4).sqrt(), 9);
    printed(
        single.upper_mm - single.lower_mm,
        2.0 * 1.96 * single.sd_mm,
        9,
    );
    // No frame has two pairs: said by frame all the same, without a scatter within.
    assert_eq!(found[0].by_frame.as_ref().unwrap().sd_within_mm, None);
}

/// A second method that falls behind only after the run: the limits over all stages mix two biases, and that is said.
#[test]
fn a_bias_that_depends_on_the_stage_is_told() {
    let frames: [Frame<'_>; 3] = [
        ("f1", &[("before", 20.50, 20.51), ("after", 22.50, 21.90)]),
        ("f2", &[("before", 20.60, 20.60), ("after", 22.40, 21.81)]),
        ("f3", &[("before", 20.40, 20.42), ("after", 22.60, 21.99)]),
    ];
    let found = agreements(&measured(&frames), &[], 0.95);
    says(&found[0].remarks, "before 0.010 mm, after -0.600 mm");
    says(&found[0].remarks, "changes with the diameter");
    let alike: [Frame<'_>; 3] = [
        ("f1", &[("before", 20.50, 20.51), ("after", 22.50, 22.50)]),
        ("f2", &[("before", 20.60, 20.59), ("after", 22.40, 22.42)]),
        ("f3", &[("before", 20.40, 20.42), ("after", 22.60, 22.59)]),
    ];
    let found = agreements(&measured(&alike), &[], 0.95);
    assert!(
        !found[0]
            .remarks
            .iter()
            .any(|r| r.contains("depends on the stage"))
    );
    assert!(!found[0].remarks.iter().any(|r| r.contains("changes with")));
}

#[test]
fn too_few_pairs_say_so() {
    let frames: [Frame<'_>; 2] = [
        ("f1", &[("before", 21.42, 21.50)]),
        ("f2", &[("before", 22.10, 22.12)]),
    ];
    let found = agreements(&measured(&frames), &[], 0.95);
    assert_eq!(found[0].n, 2);
    assert!(found[0].pairs.is_none() && found[0].by_frame.is_none() && found[0].deming.is_none());
    says(&found[0].remarks, "at least 3 needed, 2 given");
}

/// A reading that stands off takes its run and stage out of both studies, which then say what they say without that run: one more ring, with a
/// reading ten times too large and marked as such.
#[test]
fn a_slip_of_the_pen_is_no_scatter_of_a_gauge() {
    let without = readings(&crossed());
    let mut with = without.clone();
    for row in without.iter().filter(|row| row.run_id == "P1") {
        let slip = row.repeat == Some(1) && row.operator.as_deref() == Some("ada");
        let times = if slip { 10.0 } else { 1.0 };
        with.push(CaliperRow {
            run_id: "P0".to_owned(),
            value_mm: times * row.value_mm,
            stands_off: slip,
            ..row.clone()
        });
    }
    let of = |rows: &[CaliperRow]| gauge_studies(rows, Some(0.6), 0.95).remove(0);
    assert_eq!(of(&with).models, of(&without).models);
    says(&of(&with).remarks, "stands off from the others: P0 before");
    let frames: [Frame<'_>; 4] = [
        ("P0", &[("before", 68.0, 21.60)]),
        ("P1", &[("before", 21.525, 21.60)]),
        ("P2", &[("before", 22.025, 22.05)]),
        ("P3", &[("before", 21.8175, 21.95)]),
    ];
    let agree = |frames: &[Frame<'_>], rows| agreements(&measured(frames), rows, 0.95).remove(0);
    let (found, expected) = (agree(&frames, &with), agree(&frames[1..], &without));
    assert_eq!((found.n, found.pairs), (3, expected.pairs));
    says(&found.remarks, "1 of 4 pairs are left out");
}
