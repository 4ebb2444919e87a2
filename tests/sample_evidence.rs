//! What a sample study says of its breaks beside when they happened: by which definition at which pressure, and against the inspection.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "shared/folder.rs"]
mod folder;

use folder::copy;
use hooptrace::pipeline::{Options, analyse, open_study};
use hooptrace::recording::{
    EventKind, Finding, Grade, Outcome, PressureDefinition, RunResult, Severity,
};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

/// Farther than this many standard uncertainties from the truth is wrong.
const FAR: f64 = 3.0;

fn samples_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs")
}

/// The run hr08 of a copy of the study.
fn hr08(folder: &Path) -> RunResult {
    let study = open_study(folder).unwrap();
    let options = Options {
        only: vec!["hr08".to_owned()],
        ..Options::default()
    };
    let analysis = analyse(&study, &options, &|_, _| {}).unwrap().analysis;
    let mut runs = analysis.runs.into_iter();
    runs.find(|run| run.run_id == "hr08").unwrap()
}

/// A frame that broke but was found intact by the eye is not called broken: the inspection stands, the break in the trace is graded as
/// disagreeing with it, and the run carries an error until somebody has looked again.
#[test]
fn a_disagreement_with_the_inspection_is_an_error() {
    let (_, run) = changed("hr08", "runs.csv", |table| {
        let line = table.lines().find(|l| l.starts_with("hr08,")).unwrap();
        assert!(line.contains(",fractured,"));
        table.replace(line, &line.replace(",fractured,", ",intact,"))
    });
    assert_eq!(run.outcome, Outcome::Stretched);
    let mut breaks = run.events.iter().filter(|e| e.kind == EventKind::Fracture);
    assert_eq!(breaks.next().unwrap().grade, Grade::Disagree);
    let told = |f: &&Finding| f.severity == Severity::Error && f.code == "trace-against-inspection";
    assert_eq!(run.findings.iter().filter(told).count(), 1);
}

/// Every break has its pressure by each definition with its budget: the parts of a budget make its uncertainty, the step that was being
/// taken holds the true pressure between its ends, and a maximum is not the onset.
#[test]
fn a_break_has_its_pressure_by_every_definition() {
    let (mut breaks, mut steps, mut beyond) = (0, 0, 0);
    let truths: Value = serde_json::from_slice(
        &fs::read(samples_folder().join("harbour-ring.truth.json")).unwrap(),
    )
    .unwrap();
    let study = open_study(&samples_folder().join("harbour-ring")).unwrap();
    let analysis = analyse(&study, &Options::default(), &|_, _| {})
        .unwrap()
        .analysis;
    for (run, truth) in analysis.runs.iter().zip(truths["runs"].as_array().unwrap()) {
        let truly = truth["events"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|e| e["kind"] == "fracture");
        let told = run.events.iter().filter(|e| e.kind == EventKind::Fracture);
        for (event, truly) in told.zip(truly) {
            breaks += 1;
            let truly = truly["pressure_before_kpa"].as_f64().unwrap();
            let by = |name: &str| {
                event
                    .pressures
                    .iter()
                    .find(|p| p.definition.word() == name)
                    .unwrap()
            };
            let onset = by("onset");
            assert_eq!(onset.pressure.pair(), event.pressure.pair());
            for definition in event.pressures.iter().filter(|p| p.pressure.u.is_some()) {
                let squares: f64 = definition
                    .budget
                    .iter()
                    .filter_map(|part| part.u)
                    .map(|u| u * u)
                    .sum();
                let u = definition.pressure.u.unwrap();
                assert!(
                    (squares.sqrt() - u).abs() < 1e-6 * u,
                    "{} {}: {} is not {u}",
                    run.run_id,
                    definition.definition.word(),
                    squares.sqrt()
                );
                // What is left out of a budget says why.
                assert!(
                    definition
                        .budget
                        .iter()
                        .all(|part| part.u.is_some() != part.reason.is_some())
                );
            }
            let (maximum, u) = by("maximum before").pressure.pair().unwrap();
            assert!(
                maximum > truly - FAR * u,
                "{}: {maximum}, truly {truly}",
                run.run_id
            );
            let step = by("last completed step");
            if let (Some((low, u)), Some(high)) = (step.pressure.pair(), &step.at_most) {
                steps += 1;
                // It ends where the next step would have ended, well beyond the break: an end at the break itself would make every strength low.
                beyond += usize::from(high.value.unwrap() > truly + FAR * u);
                assert!(
                    low - FAR * u < truly && truly < high.value.unwrap() + FAR * u,
                    "{}: {step:?}, truly {truly}",
                    run.run_id
                );
            }
        }
    }
    assert!(
        breaks >= 9 && steps >= 6 && beyond * 2 > steps,
        "{breaks} breaks, {steps} steps, {beyond} beyond"
    );
}

/// A declared resistance of the line is taken off the pressure of a break, `R q` with what flows at the onset, and contributes its declared
/// part of that; without one, 0 to 5 kPa s/mL are assumed (root mean square of a rectangle from nothing: `R q / sqrt(3)`); a transducer
/// beside the balloon loses nothing.
#[test]
fn a_resistance_of_the_line_counts_in_the_pressure_of_a_break() {
    const ASSUMED: f64 = 5.0;
    let said = |line: &str, side: &str| {
        let folder = tempfile::tempdir().unwrap();
        copy(&samples_folder().join("harbour-ring"), folder.path());
        let rig = folder.path().join("rigs/quay.toml");
        let text = fs::read_to_string(&rig).unwrap();
        let text = text.replace("[line]", &format!("[line]\n{line}"));
        fs::write(&rig, text.replace("side = \"inflator\"", side)).unwrap();
        let run = hr08(folder.path());
        let event = run
            .events
            .iter()
            .find(|e| e.kind == EventKind::Fracture)
            .unwrap();
        let onset = event.pressures[0].clone();
        assert_eq!(onset.definition, PressureDefinition::Onset);
        let line = onset
            .budget
            .iter()
            .find(|p| p.source.starts_with("line loss"));
        (onset.pressure.pair().unwrap(), line.unwrap().clone())
    };
    let inflator = "side = \"inflator\"";
    let ((p_none, u_none), none) = said("", inflator);
    let ((p_beside, u_beside), beside) =
        said("resistance_kpa_s_per_ml = 50.0", "side = \"balloon\"");
    assert_eq!(beside.u, Some(0.0));
    assert!((p_none - p_beside).abs() < 1e-9);
    let flow = none.source.split_whitespace().nth(3).unwrap();
    let flow: f64 = flow.parse().unwrap();
    // The flow is said to a hundredth of a mL/s.
    let near = |value: f64, of_flow: f64| (value - of_flow * flow).abs() <= of_flow * 0.005 + 1e-9;
    assert!(flow > 0.1 && near(none.u.unwrap(), ASSUMED / 3.0_f64.sqrt()));
    let u_alone = u_beside;
    assert!((u_none - u_alone.hypot(none.u.unwrap())).abs() < 1e-9 * u_none);
    for (declared, u_rel) in [
        ("resistance_kpa_s_per_ml = 50.0", 0.2),
        (
            "resistance_kpa_s_per_ml = 50.0\nu_resistance_rel = 0.1",
            0.1,
        ),
    ] {
        let ((p, u), part) = said(declared, inflator);
        let loss = p_none - p;
        assert!(near(loss, 50.0), "{loss} kPa at {flow} mL/s");
        assert!((part.u.unwrap() - u_rel * loss).abs() < 1e-9 * loss);
        assert!((u - u_alone.hypot(u_rel * loss)).abs() < 1e-9 * u);
    }
}

/// A recording cut off at a limit below the break: the pressure of the break holds the truth within its uncertainty, or is the limit as a lower
/// bound that has none and says why; it is never a number below the limit that looks sure.
#[test]
fn a_break_beyond_the_limit_of_the_channel_says_what_is_known() {
    let truth: Value = serde_json::from_slice(
        &fs::read(samples_folder().join("harbour-ring.truth.json")).unwrap(),
    )
    .unwrap();
    let run = truth["runs"].as_array().unwrap();
    let run = run.iter().find(|run| run["run_id"] == "hr08").unwrap();
    let events = run["events"].as_array().unwrap();
    let truly = events.iter().find(|e| e["kind"] == "fracture").unwrap();
    let before = truly["pressure_before_kpa"].as_f64().unwrap();
    let after = truly["pressure_after_kpa"].as_f64().unwrap();
    let mut told = 0;
    for share in [0.1, 0.3, 0.5, 0.7, 0.9, 0.99] {
        let limit = after + share * (before - after);
        let folder = tempfile::tempdir().unwrap();
        copy(&samples_folder().join("harbour-ring"), folder.path());
        let trace = folder.path().join("traces/hr08.csv");
        let text = fs::read_to_string(&trace).unwrap();
        let cut: Vec<String> = text
            .lines()
            .map(|line| {
                let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
                if let Ok(p) = cells[1].parse::<f64>() {
                    cells[1] = format!("{:.2}", p.min(limit));
                }
                cells.join(",")
            })
            .collect();
        fs::write(&trace, cut.join("\n")).unwrap();
        let run = hr08(folder.path());
        let mut breaks = run.events.iter().filter(|e| e.kind == EventKind::Fracture);
        // Near the pressure after it nothing may be left of the fall: then the inspection alone tells the break, without a pressure.
        let Some((p, event)) = breaks.next().and_then(|e| Some((e.pressure.value?, e))) else {
            continue;
        };
        told += 1;
        // The zero of the run is within a few kilopascals.
        assert!(p > limit - 10.0, "limit {limit}: {p}");
        match event.pressure.u {
            Some(u) => assert!((p - before).abs() < FAR * u, "limit {limit}: {p} ± {u}"),
            None => assert!(
                event
                    .pressure
                    .reason
                    .as_deref()
                    .unwrap()
                    .contains("at least")
            ),
        }
    }
    assert!(told >= 4, "{told} of 6 told a pressure");
}

/// Every outline that gave a diameter carries the five fits, each with its diameter and its distance from the points; no circle or ellipse lies
/// nearer than that of least squared distances, and no circle nearer than the best ellipse.
#[test]
fn outlines_have_their_fits() {
    let study = open_study(&samples_folder().join("harbour-ring")).unwrap();
    let analysis = analyse(&study, &Options::default(), &|_, _| {})
        .unwrap()
        .analysis;
    let mut outlines = 0;
    for run in &analysis.runs {
        let Some(diameters) = &run.diameters else {
            continue;
        };
        let by_area = diameters.by_method.get("outline_area");
        for stage in by_area.into_iter().flat_map(|stages| stages.keys()) {
            outlines += 1;
            let fits = &diameters.outline_fits[stage];
            let off = |name: &str| fits[name].rms_residual.value.unwrap();
            for (nearer, other) in [
                ("circle_geometric", "circle_algebraic"),
                ("circle_geometric", "circle_hyper"),
                ("ellipse_geometric", "ellipse_direct"),
                ("ellipse_geometric", "circle_geometric"),
            ] {
                assert!(off(nearer) <= off(other), "{}: {nearer}", run.run_id);
            }
            let (circle, area) = (
                fits["circle_geometric"].largest_diameter.value.unwrap(),
                by_area.unwrap()[stage].value.unwrap(),
            );
            // Two means of one nearly round outline.
            assert!((circle / area - 1.0).abs() < 0.02, "{circle} {area}");
        }
    }
    assert!(outlines >= 10, "{outlines}");
}

/// The tension at a fracture is the ring force of the simulator just before it, over the length of the ring that the balloon presses on; the
/// rest with the highest load carried less.
#[test]
fn a_fracture_tension_is_that_of_the_break() {
    let path = samples_folder().join("harbour-ring.truth.json");
    let truths: Value = serde_json::from_slice(&fs::read(path).unwrap()).unwrap();
    let study = open_study(&samples_folder().join("harbour-ring")).unwrap();
    let done = analyse(&study, &Options::default(), &|_, _| {}).unwrap();
    let mut compared = 0;
    for (run, truth) in done
        .analysis
        .runs
        .iter()
        .zip(truths["runs"].as_array().unwrap())
    {
        let events = truth["events"].as_array().unwrap();
        let broke = events.iter().find(|e| e["kind"] == "fracture");
        let length = truth["contact_length_mm"].as_f64();
        let (Some(broke), Some(length), Some(frame)) = (broke, length, &run.frame) else {
            continue;
        };
        let truly = broke["ring_force_n"].as_f64().unwrap() / length;
        let (tension, u) = frame.fracture_tension.pair().unwrap();
        assert!(
            (tension - truly).abs() <= FAR * u,
            "{}: {tension} ± {u} is not {truly}",
            run.run_id
        );
        compared += 1;
    }
    assert_eq!(compared, 9);
}

/// Runs go by any column of the tables of runs, frames and balloons; a name that none has is an error with its place, and they go by arm.
#[test]
fn runs_go_by_any_column_of_the_tables() {
    let folder = tempfile::tempdir().unwrap();
    copy(&samples_folder().join("harbour-ring"), folder.path());
    let frames = folder.path().join("frames.csv");
    let table = fs::read_to_string(&frames).unwrap();
    let lined = table.lines().enumerate().map(|(at, line)| match at {
        0 => format!("{line},Surface\n"),
        at if at % 2 == 0 => format!("{line},rough\n"),
        _ => format!("{line},smooth\n"),
    });
    fs::write(&frames, lined.collect::<String>()).unwrap();
    let study = folder.path().join("study.toml");
    let text = fs::read_to_string(&study).unwrap();
    let groups = |by: &str| {
        fs::write(&study, format!("group_by = {by}\n{text}")).unwrap();
        let study = open_study(folder.path()).unwrap();
        let done = analyse(&study, &Options::default(), &|_, _| {}).unwrap();
        let wrong = done
            .analysis
            .findings
            .iter()
            .filter(|f| f.code == "group-by");
        let wrong: Vec<Finding> = wrong.cloned().collect();
        let names = done
            .analysis
            .groups
            .iter()
            .map(|group| (group.name.clone(), group.n));
        (names.collect::<Vec<_>>(), wrong)
    };
    let (by_surface, wrong) = groups("[\"surface\"]");
    assert!(wrong.is_empty(), "{wrong:?}");
    let names: Vec<&str> = by_surface.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["surface rough", "surface smooth"]);
    let (by_arm, _) = groups("[\"arm\"]");
    let runs = |groups: &[(String, usize)]| groups.iter().map(|(_, n)| n).sum::<usize>();
    assert_eq!(runs(&by_surface), runs(&by_arm));
    let (instead, wrong) = groups("[\"surfase\"]");
    assert_eq!(instead, by_arm);
    let wrong = &wrong[0];
    assert_eq!(
        (wrong.file.as_deref(), wrong.line),
        (Some("study.toml"), Some(1))
    );
    assert_eq!(wrong.help.as_deref(), Some("did you mean \"surface\"?"));
}

/// A run of a copy of the study with one file changed, and the codes of the findings about it.
fn changed(run: &str, file: &str, change: impl Fn(&str) -> String) -> (Vec<String>, RunResult) {
    let folder = tempfile::tempdir().unwrap();
    copy(&samples_folder().join("harbour-ring"), folder.path());
    let path = folder.path().join(file);
    let text = fs::read_to_string(&path).unwrap();
    let other = change(&text);
    assert_ne!(text, other);
    fs::write(&path, other).unwrap();
    let study = open_study(folder.path()).unwrap();
    let options = Options {
        only: vec![run.to_owned()],
        ..Options::default()
    };
    let done = analyse(&study, &options, &|_, _| {}).unwrap();
    let found = done
        .analysis
        .runs
        .into_iter()
        .find(|r| r.run_id == run)
        .unwrap();
    let codes = found.findings.iter().map(|f| f.code.clone()).collect();
    (codes, found)
}

/// Every value of a column of a CSV table times a factor, in the rows of which this is true.
fn times(text: &str, column: &str, factor: f64, rows: impl Fn(&str) -> bool) -> String {
    let mut lines = text.lines();
    let header = lines.next().unwrap();
    let at = header.split(',').position(|name| name == column).unwrap();
    let changed = lines.map(|line| {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        if let (true, Ok(value)) = (rows(line), cells[at].parse::<f64>()) {
            cells[at] = format!("{:.3}", factor * value);
        }
        cells.join(",")
    });
    let body: Vec<String> = changed.collect();
    format!("{header}\n{}\n", body.join("\n"))
}

/// Sizes that contradict each other are told: a listed inner diameter, a stage in other units, a balloon that is not what its label says.
#[test]
fn sizes_that_contradict_are_told() {
    let all = |_: &str| true;
    let (codes, _) = changed("hr08", "frames.csv", |t| times(t, "true_id_mm", 0.8, all));
    assert!(
        codes.contains(&"diameters-contradict".to_owned()),
        "{codes:?}"
    );
    let before = |line: &str| line.starts_with("hr08,before,caliper");
    let (codes, _) = changed("hr08", "calipers.csv", |t| times(t, "value", 1.2, before));
    for code in ["diameters-contradict", "ring-smaller"] {
        assert!(codes.contains(&code.to_owned()), "{codes:?}");
    }
    let label = |t: &str| times(t, "nominal_diameter_mm", 1.2, all);
    let (codes, _) = changed("hr08", "balloons.csv", label);
    assert!(codes.contains(&"balloon-off-label".to_owned()), "{codes:?}");
    let (codes, _) = changed("hr08", "runs.csv", |t| {
        t.replace("looked at twice", "looked at again")
    });
    for code in ["diameters-contradict", "ring-smaller", "balloon-off-label"] {
        assert!(!codes.contains(&code.to_owned()), "{codes:?}");
    }
}

/// A frame that was wider before than its elastic line says, drawn down to no load, was not elastic there: no compliance, and the reason.
#[test]
fn a_line_that_misses_the_diameter_before_is_no_compliance() {
    let before = |line: &str| line.starts_with("hr01,before,");
    let (_, as_it_is) = changed("hr01", "runs.csv", |t| {
        t.replace("looked at twice", "looked at again")
    });
    assert!(as_it_is.frame.unwrap().compliance.pair().is_some());
    let (_, wider) = changed("hr01", "calipers.csv", |t| times(t, "value", 1.03, before));
    let frame = wider.frame.unwrap();
    for quantity in [
        &frame.compliance,
        &frame.energy_stored,
        &frame.equivalent_modulus,
    ] {
        assert_eq!(quantity.value, None, "{quantity:?}");
    }
    assert!(
        frame
            .compliance
            .reason
            .unwrap()
            .contains("elastic part was not seen")
    );
}
