//! What the eye says against the trace, and passes that a sample cannot bear.

use super::{ATM, arm, event, fractured, frame_with_oversize, judged, one_verdict, quantity, run};
use super::{compared, series};
use hooptrace::judge::{FrameState, judge_run, samples};
use hooptrace::recording::{EventKind, Inspection, Outcome, PressureDefinition, RunResult};
use hooptrace::rig::{Series, Settings};

/// The trace shows a fracture, the inspection another word: the word stands, as the error says.
#[test]
fn the_inspection_stands_against_a_fracture_in_the_trace() {
    for (seen, outcome) in [
        (Inspection::Burst, Outcome::Burst),
        (Inspection::Leak, Outcome::Leak),
        (Inspection::Slip, Outcome::Slip),
        (Inspection::Intact, Outcome::Stretched),
    ] {
        let events = vec![event(EventKind::Fracture, Some((10.0, 700.0)))];
        let found = judge_run(
            events,
            Some(seen),
            FrameState::Changed,
            false,
            0.01,
            &Settings::default(),
        );
        assert_eq!(found.outcome, outcome, "{seen:?}: {}", found.reason);
        let told = found
            .findings
            .iter()
            .any(|f| f.code == "trace-against-inspection");
        assert!(told || seen == Inspection::Slip, "{:?}", found.findings);
    }
}

const SHARE: &str =
    "[[criterion]]\nrule = \"fractured_share\"\nat_least = 0.9\nconfidence = 0.95\n";

/// 29 of 29 show 90 % at 95 % (success run); not where one frame stands behind two of them.
#[test]
fn runs_of_one_frame_are_not_independent() {
    let mut runs = arm("a", &[900.0; 29], &[]);
    one_verdict(SHARE, &runs, "pass");
    let again = runs[0].frame_id.clone();
    runs[1].frame_id = again;
    let reason = one_verdict(SHARE, &runs, "undecided");
    assert!(reason.contains("more than one run"), "{reason}");
}

/// Loads at the fracture below a limit say nothing of the frames that held: their strength is censored, not missing.
#[test]
fn frames_that_held_have_no_fracture_load_to_pass_by() {
    let load = |mut made: RunResult, kpa: f64| {
        let mut frame = frame_with_oversize(2.0);
        frame.fracture_load = quantity(kpa, "kPa");
        made.frame = Some(frame);
        made
    };
    let mut runs: Vec<RunResult> = (0..22)
        .map(|i| {
            load(
                fractured(&format!("r{i}"), "a", 900.0),
                800.0 + f64::from(i),
            )
        })
        .collect();
    let asked = "[[criterion]]\nrule = \"each_within\"\nquantity = \"frame.fracture_load\"\nat_most_kpa = 1500\nallowed_failures = 0\nreliability = 0.9\nconfidence = 0.9\n";
    one_verdict(asked, &runs, "pass");
    runs.push(run("held", "a", Outcome::Stretched, 1590.0));
    let reason = one_verdict(asked, &runs, "undecided");
    assert!(reason.contains("1 run without a fracture"), "{reason}");
}

/// Two populations and a run that held: no Weibull line, so no pass by its limit however low the strengths lie.
#[test]
fn a_crooked_weibull_line_withholds_a_pass() {
    let low = (0..6).map(|i| 400.0 + f64::from(i));
    let high = (0..14).map(|i| 900.0 + f64::from(i));
    let strengths: Vec<f64> = low.chain(high).collect();
    let runs = arm("a", &strengths, &[915.0]);
    let asked = "[[criterion]]\nrule = \"fracture_pressure_below\"\nlimit_kpa = 4000\ncoverage = 0.9\nconfidence = 0.9\n";
    let reason = one_verdict(asked, &runs, "undecided");
    assert!(reason.contains("Weibull line"), "{reason}");
}

/// A fracture whose pressure is known by the onset, of a study of dial readings, has no strength at all, not even a left-censored one; one that
/// the eye alone saw has.
#[test]
fn another_definition_is_not_pooled() {
    let mut runs = arm("a", &[9.0 * ATM; 3], &[]);
    let mut by_eye = run("eye", "a", Outcome::Fractured, 10.0 * ATM);
    by_eye.events = vec![event(EventKind::Fracture, None)];
    runs.push(by_eye);
    let dials = Series {
        definition: PressureDefinition::Dial,
        ..Series::default()
    };
    let found = &samples(&runs, &dials)[0];
    assert_eq!((found.fractured(), found.ranges.len()), (4, 1));
    assert_eq!(samples(&runs, &Series::default())[0].ranges.len(), 4);
}

/// Of more than six groups nothing is compared two by two, and that is said.
#[test]
fn too_many_groups_for_pairs_are_told() {
    let names = ["a", "b", "c", "d", "e", "f", "g"];
    let of = |names: &[&str]| -> Vec<RunResult> {
        let each = names.iter().map(|name| arm(name, &[900.0, 910.0], &[]));
        each.flatten().collect()
    };
    let told = |runs: &[RunResult]| {
        let all = compared(runs, &series(&["arm"]));
        all.iter().filter(|c| c.name == "pairs").count()
    };
    assert_eq!(told(&of(&names)), 1);
    assert_eq!(told(&of(&names[..6])), 0);
    assert_eq!(judged(SHARE, &of(&names)).len(), 7);
}

/// A burst balloon leaves its frame whole in the count, which the test of shares says; runs that the plan ended need no such word.
#[test]
fn a_test_of_shares_tells_the_runs_that_the_balloon_ended() {
    let mut runs = arm("a", &[900.0; 6], &[1100.0; 2]);
    runs.extend(arm("b", &[900.0; 3], &[1100.0; 5]));
    let of = |runs: &[RunResult]| {
        let all = compared(runs, &series(&["arm"]));
        let fisher = all.iter().find(|test| test.name == "fisher").unwrap();
        fisher.method.clone()
    };
    assert!(!of(&runs).contains("counted as whole"));
    runs[6].outcome = Outcome::Burst;
    runs[13].outcome = Outcome::Burst;
    runs[14].outcome = Outcome::Slip;
    let told = of(&runs);
    assert!(
        told.contains("6 of 8 against 3 of 8 (1 and 2 of them counted as whole though"),
        "{told}"
    );
}
