//! The sample studies analysed from end to end and held against what really happened in them.
//!
//! The truth files come from the simulator, which shares no code with the analysis beyond the plain types: it runs the physics
//! forwards and writes down what came of it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use hooptrace::pipeline::{Options, analyse, open_study};
use hooptrace::recording::{Analysis, EventKind, Outcome, RunKind, RunResult, StepVerdict};
use hooptrace::uncertain::Quantity;
use serde_json::Value;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

const STUDIES: [&str; 2] = ["first-look", "harbour-ring"];
/// Farther than this many standard uncertainties from the truth is wrong.
const FAR: f64 = 3.0;
/// So many are usual for nineteen values in twenty.
const NEAR: f64 = 2.0;
/// Share that must be near. Of a sound uncertainty 0.95 are; a hundred values scatter by 0.02 about that, and errors
/// that values share (a gauge, an operator) widen it.
const NEAR_SHARE: f64 = 0.85;
/// The truth file holds nine digits; an event may lie so much beside its interval for that reason and for a recorder that
/// stamps samples a little late, in samples.
const EDGE_SAMPLES: f64 = 0.25;
/// Most samples between the told onset and the true one.
const ONSET_SAMPLES: f64 = 2.0;
/// Time between two events of one frame below which they are one, s.
const SAME_EVENT_S: f64 = 0.5;

struct Sample {
    name: &'static str,
    analysis: Analysis,
    truth: Value,
}

impl Sample {
    /// Each run with its truth, in the order of the table.
    fn runs(&self) -> impl Iterator<Item = (&RunResult, &Value)> {
        let truths = self.truth["runs"].as_array().unwrap();
        assert_eq!(truths.len(), self.analysis.runs.len(), "{}", self.name);
        self.analysis.runs.iter().zip(truths).map(|(run, truth)| {
            assert_eq!(truth["run_id"].as_str(), Some(run.run_id.as_str()));
            (run, truth)
        })
    }
}

fn samples_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs")
}

fn samples() -> &'static [Sample] {
    static SAMPLES: OnceLock<Vec<Sample>> = OnceLock::new();
    SAMPLES.get_or_init(|| {
        STUDIES
            .iter()
            .map(|name| {
                let study = open_study(&samples_folder().join(name)).unwrap();
                let analysis = analyse(&study, &Options::default(), &|_, _| {})
                    .unwrap()
                    .analysis;
                let truth = samples_folder().join(format!("{name}.truth.json"));
                let truth = serde_json::from_slice(&fs::read(truth).unwrap()).unwrap();
                Sample {
                    name,
                    analysis,
                    truth,
                }
            })
            .collect()
    })
}

fn every_run() -> impl Iterator<Item = (&'static RunResult, &'static Value)> {
    samples().iter().flat_map(Sample::runs)
}

/// True events of a kind, in order.
fn true_events<'t>(truth: &'t Value, kind: &str) -> Vec<&'t Value> {
    let events = truth["events"].as_array().unwrap();
    events.iter().filter(|e| e["kind"] == kind).collect()
}

/// Distances from the truth in standard uncertainties, by what they are of.
#[derive(Default)]
struct Distances(BTreeMap<&'static str, Vec<(f64, String)>>);

impl Distances {
    /// Takes a quantity and what it really was; a quantity that is missing needs a reason and is counted nowhere.
    fn take(&mut self, of: &'static str, run: &RunResult, told: &Quantity, truth: &Value) {
        let Some(truth) = truth.as_f64() else {
            return;
        };
        let words = format!("{} of {}: {told:?}, truly {truth}", of, run.run_id);
        match told.pair() {
            Some((value, u)) => {
                assert!(u > 0.0, "{words}");
                let at = (value - truth) / u;
                self.0.entry(of).or_default().push((at, words));
            }
            None => assert!(
                told.reason
                    .as_ref()
                    .is_some_and(|reason| !reason.is_empty()),
                "{words}"
            ),
        }
    }

    fn count(&self, of: &str) -> usize {
        self.0.get(of).map_or(0, Vec::len)
    }

    /// None is far, and nearly all are near.
    fn check(&self) {
        let all: Vec<&(f64, String)> = self.0.values().flatten().collect();
        for (at, words) in &all {
            assert!(at.abs() <= FAR, "{at:.2} standard uncertainties: {words}");
        }
        let near = all.iter().filter(|(at, _)| at.abs() <= NEAR).count();
        let share = near as f64 / all.len() as f64;
        assert!(share >= NEAR_SHARE, "{near} of {} are near", all.len());
    }
}

/// Every run ends as it truly ended.
#[test]
fn every_outcome_is_right() {
    for (run, truth) in every_run() {
        let truly = truth["outcome"].as_str().unwrap();
        assert_eq!(
            run.outcome.word(),
            truly,
            "{}: {}",
            run.run_id,
            run.outcome_reason
        );
    }
}

/// Every true break is found within two samples of when it happened and inside the interval that is told; nothing else is
/// called a break.
#[test]
fn every_break_is_found_when_it_happened_and_no_other() {
    let mut found = 0;
    for (run, truth) in every_run() {
        let truly = true_events(truth, "fracture");
        let told: Vec<_> = run
            .events
            .iter()
            .filter(|e| e.kind == EventKind::Fracture)
            .collect();
        assert_eq!(told.len(), truly.len(), "{}: {told:?}", run.run_id);
        let step = 1.0 / run.recording.rate_hz;
        for (told, truly) in told.iter().zip(&truly) {
            let t = truly["t_s"].as_f64().unwrap();
            let (at, low, high) = (
                told.t_s.unwrap(),
                told.t_lo_s.unwrap(),
                told.t_hi_s.unwrap(),
            );
            assert!(low <= at && at <= high, "{}: {told:?}", run.run_id);
            assert!(
                (at - t).abs() <= ONSET_SAMPLES * step,
                "{}: told {at}, truly {t}",
                run.run_id
            );
            let edge = EDGE_SAMPLES * step;
            assert!(
                (low - edge..=high + edge).contains(&t),
                "{}: told {low} to {high}, truly {t}",
                run.run_id
            );
            let row = truly["row"].as_u64().unwrap();
            assert!(
                told.sample.unwrap().abs_diff(row as usize) <= 2,
                "{}: {told:?}",
                run.run_id
            );
            found += 1;
        }
    }
    assert_eq!(found, 11);
}

/// Bursts, leaks and slips are found where they happened, once each; what a bench does besides (refill, partial deflation, pause,
/// hand-over, gap) is called nothing.
#[test]
fn balloons_that_give_up_are_told_from_all_else() {
    for kind in [EventKind::Burst, EventKind::Leak, EventKind::Slip] {
        let word = format!("{kind:?}").to_lowercase();
        let mut found = 0;
        for (run, truth) in every_run() {
            let truly = true_events(truth, &word);
            let told: Vec<_> = run.events.iter().filter(|e| e.kind == kind).collect();
            assert_eq!(
                told.len(),
                truly.len(),
                "{word} in {}: {told:?}",
                run.run_id
            );
            for (told, truly) in told.iter().zip(&truly) {
                let (at, t) = (told.t_s.unwrap(), truly["t_s"].as_f64().unwrap());
                assert!(
                    (at - t).abs() < SAME_EVENT_S,
                    "{word} in {}: told {at}, truly {t}",
                    run.run_id
                );
                found += 1;
            }
        }
        assert_eq!(found, 1, "{word}");
    }
}

/// Pressures at the breaks and the highest ones.
#[test]
fn pressures_are_true_within_their_uncertainty() {
    let mut distances = Distances::default();
    for (run, truth) in every_run() {
        distances.take(
            "highest pressure",
            run,
            &run.highest_pressure,
            &truth["highest_pressure_kpa"],
        );
        let told = run.events.iter().filter(|e| e.kind == EventKind::Fracture);
        for (told, truly) in told.zip(true_events(truth, "fracture")) {
            distances.take(
                "fracture pressure",
                run,
                &told.pressure,
                &truly["pressure_before_kpa"],
            );
            distances.take(
                "injected volume",
                run,
                &told.volume,
                &truly["volume_injected_ml"],
            );
            // The fall is told with the moved volume taken out, so it is not the plain difference; it cannot be far from it.
            let (drop, plain) = (
                told.drop.value.unwrap(),
                truly["drop_kpa"].as_f64().unwrap(),
            );
            assert!(
                (drop / plain - 1.0).abs() < 0.15,
                "{}: {drop} kPa, plainly {plain}",
                run.run_id
            );
        }
    }
    assert_eq!(distances.count("fracture pressure"), 11);
    assert_eq!(distances.count("highest pressure"), 25);
    distances.check();
}

/// Mean diameters before, loaded and after, what follows from them, and the diameters of the outlines.
#[test]
fn diameters_are_true_within_their_uncertainty() {
    let mut distances = Distances::default();
    for (run, truth) in every_run().filter(|(run, _)| run.kind == RunKind::Frame) {
        let told = run
            .diameters
            .as_ref()
            .unwrap_or_else(|| panic!("{}", run.run_id));
        let truly = &truth["diameters"];
        for (of, told, truly) in [
            ("before", &told.before, &truly["before_mm"]),
            ("loaded", &told.loaded, &truly["loaded_mm"]),
            ("after", &told.after, &truly["after_mm"]),
            ("set", &told.set, &truly["set_mm"]),
            ("set ratio", &told.set_ratio, &truly["set_ratio"]),
            ("recoil", &told.recoil, &truly["recoil"]),
            ("recovery", &told.recovery, &truly["recovery"]),
        ] {
            distances.take(of, run, told, truly);
        }
        if let Some(event) = true_events(truth, "fracture").first() {
            distances.take(
                "at the event",
                run,
                &told.at_event,
                &event["diameter_before_mm"],
            );
        }
        outlines(&mut distances, run, truth);
        let areas = run.areas.as_ref().unwrap();
        distances.take(
            "area before",
            run,
            &areas.before,
            &truth["areas"]["before_mm2"],
        );
        distances.take(
            "area after",
            run,
            &areas.after,
            &truth["areas"]["after_mm2"],
        );
        distances.take("area gain", run, &areas.gain, &truth["areas"]["gain"]);
    }
    for (of, least) in [
        ("before", 19),
        ("after", 19),
        ("set", 19),
        ("loaded", 16),
        ("at the event", 10),
    ] {
        assert!(
            distances.count(of) >= least,
            "{of}: {}",
            distances.count(of)
        );
    }
    distances.check();
}

fn outlines(distances: &mut Distances, run: &RunResult, truth: &Value) {
    let methods = &run.diameters.as_ref().unwrap().by_method;
    for (stage, outline) in truth["outlines"].as_object().unwrap() {
        let of = |what: &str| outline[what].as_f64().unwrap();
        let by_area = 2.0 * (of("area_mm2") / PI).sqrt();
        for (of, method, truly) in [
            ("outline by area", "outline_area", by_area),
            (
                "outline by perimeter",
                "outline_perimeter",
                of("perimeter_mm") / PI,
            ),
            (
                "largest inscribed",
                "outline_largest_inscribed",
                of("largest_inscribed_mm"),
            ),
        ] {
            if let Some(told) = methods.get(method).and_then(|stages| stages.get(stage)) {
                distances.take(of, run, told, &Value::from(truly));
            }
        }
    }
}

/// Effective orifice areas and mean gradients.
#[test]
fn flow_is_true_within_its_uncertainty() {
    let mut distances = Distances::default();
    for (run, truth) in every_run() {
        let truly = truth["flow"].as_object().unwrap();
        assert_eq!(
            run.flow.keys().collect::<Vec<_>>(),
            truly.keys().collect::<Vec<_>>()
        );
        for (stage, truly) in truly {
            let told = &run.flow[stage];
            distances.take("EOA", run, &told.effective_orifice_area, &truly["eoa_cm2"]);
            // A mean over few beats of a curve with noise: told to a few hundredths, whatever its standard uncertainty says.
            let (told, truly) = (
                told.mean_gradient.value.unwrap(),
                truly["mean_gradient_mmhg"].as_f64().unwrap(),
            );
            assert!(
                (told / truly - 1.0).abs() < 0.05,
                "{}: {told} mmHg, truly {truly}",
                run.run_id
            );
        }
    }
    assert_eq!(distances.count("EOA"), 8);
    distances.check();
}

/// What the blank runs say of the line.
#[test]
fn the_line_is_true_within_its_uncertainty() {
    let mut distances = Distances::default();
    for sample in samples() {
        let truly = &sample.truth["line"];
        for (run, _) in sample.runs().filter(|(run, _)| run.kind == RunKind::Blank) {
            let told = run.line.as_ref().unwrap();
            distances.take(
                "compliance",
                run,
                &told.compliance,
                &truly["compliance_ml_per_kpa"],
            );
            distances.take(
                "trapped air",
                run,
                &told.trapped_air,
                &truly["trapped_air_ml"],
            );
        }
    }
    assert_eq!(distances.count("compliance"), 3);
    assert_eq!(distances.count("trapped air"), 3);
    distances.check();
}

/// Free runs: the balloon's diameters over the whole chart to a tenth of a millimetre (the chart is rounded to a hundredth, the
/// camera is good for two).
#[test]
fn free_balloons_are_true() {
    let mut points = 0;
    for sample in samples() {
        for balloon in sample.truth["balloons"].as_array().unwrap() {
            let runs = sample.analysis.runs.iter();
            let run = runs
                .filter(|run| run.kind == RunKind::Free)
                .find(|run| run.balloon_id.as_deref() == balloon["balloon_id"].as_str())
                .unwrap();
            let curve = &run.balloon.as_ref().unwrap().curve;
            let truly = |key: &str, at: usize| balloon[key][at].as_f64().unwrap();
            for at in 0..balloon["pressure_kpa"].as_array().unwrap().len() {
                let (p, d) = (truly("pressure_kpa", at), truly("diameter_mm", at));
                let Some(told) = between(&curve.pressure_kpa, &curve.diameter_mm, p) else {
                    continue;
                };
                points += 1;
                assert!(
                    (told - d).abs() < 0.1,
                    "{} at {p} kPa: {told} mm, truly {d}",
                    run.run_id
                );
            }
        }
    }
    assert!(points > 20, "{points}");
}

/// Straight between the points of a curve; nothing outside.
fn between(x: &[f64], y: &[f64], at: f64) -> Option<f64> {
    let k = x.windows(2).position(|w| (w[0]..=w[1]).contains(&at))?;
    Some(y[k] + (y[k + 1] - y[k]) * (at - x[k]) / (x[k + 1] - x[k]))
}

/// Arms are counted as they are: the balloon's failures and the frames that held are censored, never dropped.
#[test]
fn arms_count_every_frame_once() {
    for sample in samples() {
        for group in &sample.analysis.groups {
            let of_arm: Vec<_> = sample
                .runs()
                .filter(|(run, _)| {
                    run.kind == RunKind::Frame && run.arm.as_ref() == Some(&group.name)
                })
                .collect();
            let broken = of_arm
                .iter()
                .filter(|(run, _)| run.outcome == Outcome::Fractured)
                .count();
            assert_eq!(
                (group.n, group.fractured, group.censored),
                (of_arm.len(), broken, of_arm.len() - broken)
            );
        }
        let counted: usize = sample.analysis.groups.iter().map(|group| group.n).sum();
        assert_eq!(
            counted,
            sample
                .runs()
                .filter(|(run, _)| run.kind == RunKind::Frame)
                .count(),
            "{}",
            sample.name
        );
    }
}

/// The protocol of the larger study is judged, every criterion for each arm it is asked of.
#[test]
fn the_protocol_is_judged() {
    let verdicts = &samples()[1].analysis.verdicts;
    let told: Vec<(&str, &str)> = verdicts
        .iter()
        .map(|v| (v.rule.as_str(), v.group.as_str()))
        .collect();
    assert_eq!(
        told,
        [
            ("fractured_share", "moulded"),
            ("fracture_pressure_below", "moulded"),
            ("set_at_least", "metal"),
            ("set_at_least", "moulded"),
            ("diameter_after_at_least", "metal"),
            ("no_event", "metal"),
            ("no_event", "moulded"),
            ("tolerance", "moulded"),
            ("each_within", "metal"),
            ("each_within", "moulded"),
            ("each_within", "metal"),
            ("each_within", "moulded"),
            ("each_within", "metal"),
            ("each_within", "moulded"),
            ("mean", "metal"),
            ("mean", "moulded"),
        ]
    );
    // Five of seven frames broke and 0.8 were asked; one of nine and two of seven balloons gave up and 0.1 were allowed: so few of a bench
    // that keeps to it may look so by chance.
    for (at, verdict) in [(0, "undecided"), (5, "undecided"), (6, "undecided")] {
        assert_eq!(verdicts[at].verdict, verdict, "{:?}", verdicts[at]);
    }
    // Every frame stood nearer to the wall than 4 mm, none of its leaflets was worse than mild, and no inner valve moved by a millimetre.
    for (at, verdict) in [
        (8, "fail"),
        (9, "fail"),
        (10, "undecided"),
        (12, "undecided"),
    ] {
        assert_eq!(verdicts[at].verdict, verdict, "{:?}", verdicts[at]);
    }
    assert!(verdicts.iter().any(|v| v.verdict == "pass"));
    assert!(
        verdicts
            .iter()
            .all(|v| !v.asks.contains('`') && !v.decision_rule.is_empty())
    );
}

/// The operator of the simulation keeps most steps: four strong frames took more than the rated pressure, two of them a balloon more than 3.8 mm
/// too large, and one fourteen strokes.
#[test]
fn the_steps_of_the_protocol_are_kept_or_not() {
    let analysis = &samples()[1].analysis;
    let deviated = |step: &str| -> Vec<&str> {
        let runs = analysis.runs.iter().filter(|run| {
            run.adherence
                .iter()
                .any(|s| s.step == step && s.verdict == StepVerdict::Deviated)
        });
        runs.map(|run| run.run_id.as_str()).collect()
    };
    assert_eq!(deviated("balloon"), ["hr14", "hr15"]);
    assert_eq!(deviated("maximum"), ["hr12", "hr13", "hr14", "hr15"]);
    assert_eq!(deviated("strokes"), ["hr13"]);
    assert!(deviated("holds").is_empty());
    let metal = &analysis.adherence[0];
    assert_eq!((metal.group.as_str(), metal.n), ("metal", 9));
    for name in ["hr12", "hr13", "hr14", "hr15"] {
        assert!(metal.deviated.iter().any(|run| run == name), "{metal:?}");
    }
}

/// Every fault of a recorder is a finding with its number and time, and what it did to the numbers names its distance to the event that
/// the run is known by.
#[test]
fn every_fault_of_a_recording_is_told_with_its_effect() {
    let mut seen = 0;
    for (run, truth) in every_run() {
        for fault in truth["faults"].as_array().into_iter().flatten() {
            let words = fault.as_str().unwrap();
            let numbers: Vec<f64> = words
                .split(' ')
                .filter_map(|word| word.parse().ok())
                .collect();
            let (code, size, from_s) = match (words.split(' ').next(), numbers.as_slice()) {
                (Some("gap"), [seconds, from]) => ("gaps", *seconds, *from),
                (_, [rows, from]) if words.contains("twice") => ("rows-repeated", *rows, *from),
                (_, [rows, from]) => ("readings-missing", *rows, *from),
                _ => panic!("{words}"),
            };
            let about = format!("{}: {words}: {:?}", run.run_id, run.findings);
            let found = run.findings.iter().find(|f| {
                f.code == code && f.column.as_deref().is_none_or(|c| !c.contains("diam"))
            });
            let found = found.unwrap_or_else(|| panic!("{about}"));
            let effect = found.effect.as_deref().unwrap();
            let step = 1.0 / run.recording.rate_hz;
            if code == "gaps" {
                let length = found.t_to_s.unwrap() - found.t_from_s.unwrap();
                assert!((length - size).abs() < 2.5 * step, "{about}");
            } else {
                assert_eq!(found.count, Some(size as usize), "{about}");
            }
            if code != "rows-repeated" {
                let from = found.t_from_s.unwrap();
                assert!((from - from_s).abs() < 2.5 * step, "{about}");
                for event in run.events.iter().filter(|e| e.kind != EventKind::Yield) {
                    let Some(at) = event.t_s else { continue };
                    let before = at - found.t_to_s.unwrap();
                    if before > 0.0 {
                        let told = format!("the nearest {before:.2} s before the ");
                        assert!(effect.contains(&told), "{told} in {about}");
                    }
                }
            }
            seen += 1;
        }
    }
    assert!(seen >= 5, "{seen}");
}
