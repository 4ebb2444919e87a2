//! From a plan to a study folder and its truth.

use super::dialect::{self, Heading};
use super::frame::Ring;
use super::inspect::{self, Sheets};
use super::operator::Operator;
use super::plan::{InspectionNote, Plan, RunPlan};
use super::recorder::{Fault, Row};
use super::rig_file::{rig_path, rig_text};
use super::run::{Course, simulate};
use super::solver::Specimen;
use super::tables;
use super::truth::{
    STRETCHED_MM, TRUTH_SCHEMA, TrueAreas, TrueBalloon, TrueDiameters, TrueLine, TrueRun, Truth,
};
use crate::recording::{Outcome, RunKind};
use crate::uncertain::Draws;
use std::collections::BTreeMap;
use std::path::Path;
use std::{fs, io};

/// Simulate a plan and write its study into `folder` (made if missing; files of the same name are replaced).
///
/// The truth is returned, not written: it belongs outside the study folder.
///
/// # Errors
/// A folder or file that cannot be written, or a plan whose run names no recorder of the plan.
pub fn write_study(plan: &Plan, folder: &Path) -> io::Result<Truth> {
    fs::create_dir_all(folder.join("traces"))?;
    fs::create_dir_all(folder.join("rigs"))?;
    let mut sheets = Sheets::default();
    let mut runs = Vec::new();
    for run in &plan.runs {
        let (bytes, truth) = one_run(plan, run, &mut sheets)?;
        fs::write(folder.join(tables::trace_path(run)), bytes)?;
        runs.push(truth);
    }
    for logger in &plan.loggers {
        fs::write(folder.join(rig_path(logger)), rig_text(plan, logger))?;
    }
    let inspections: Vec<String> = runs.iter().map(|run| run.inspection.clone()).collect();
    let files = [
        ("study.toml", tables::study(plan)),
        ("frames.csv", tables::frames(plan)),
        ("balloons.csv", tables::balloons(plan)),
        ("charts.csv", tables::charts(plan)),
        ("runs.csv", tables::runs(plan, &inspections)),
        ("calipers.csv", sheets.calipers),
        ("contours.csv", sheets.contours),
        ("flow.csv", sheets.flow),
        ("observations.csv", sheets.observations),
    ];
    for (name, text) in files {
        // A table with nothing but its head was not kept in the laboratory either.
        if text.lines().count() > 1 {
            fs::write(folder.join(name), text)?;
        }
    }
    if let Some(protocol) = plan.protocol {
        fs::write(folder.join(tables::PROTOCOL_FILE), protocol)?;
    }
    Ok(truth_of(plan, runs))
}

/// Simulate a plan into `parent/<name>` and write the truth beside it as `parent/<name>.truth.json`.
///
/// # Errors
/// As [`write_study`].
pub fn write_with_truth(plan: &Plan, parent: &Path) -> io::Result<Truth> {
    let truth = write_study(plan, &parent.join(&plan.name))?;
    let text = truth.to_json().map_err(io::Error::other)?;
    fs::write(parent.join(format!("{}.truth.json", plan.name)), text)?;
    Ok(truth)
}

/// Set up, simulate and record a run.
fn one_run(plan: &Plan, run: &RunPlan, sheets: &mut Sheets) -> io::Result<(Vec<u8>, TrueRun)> {
    let logger = tables::logger_of(plan, run)
        .ok_or_else(|| io::Error::other(format!("run {} has no recorder", run.id)))?;
    let balloon = run
        .balloon
        .and_then(|at| plan.balloons.get(at))
        .map(|model| {
            let mut balloon = model.balloon.clone();
            balloon.burst_kpa = run.burst_kpa.unwrap_or(balloon.burst_kpa);
            balloon
        });
    let ring = run.frame.as_ref().map(|frame| {
        let ring = Ring::new(frame.construction.clone(), frame.true_id_mm);
        match frame.inner {
            Some(inner) => ring.with_inner(inner),
            None => ring,
        }
    });
    let mut specimen = Specimen::new(plan.line, balloon, ring, run.seat);
    specimen.weak_spot = run.weak_spot;
    specimen.density = plan.density_g_per_ml;
    let hand = Draws::new(plan.seed, &format!("{}: operator", run.id));
    let operator = Operator::new(run.habit.clone(), run.balloon.is_some(), hand);
    let mut course = simulate(specimen, operator, logger.rate_hz);
    let mut noise = Draws::new(plan.seed, &format!("{}: recorder", run.id));
    let mut faults = run.faults.clone();
    if let Some(first) = course.events.iter().find(|event| event.kind == "fracture") {
        let at_break = run.faults_at_break.iter();
        faults.extend(at_break.map(|fault| fault.later(first.t_s)));
    }
    // From a stream of its own, so that it moves nothing else.
    let mut setting_up = Draws::new(plan.seed, &format!("{}: instruments", run.id));
    let rows = logger.set_up(&mut setting_up).record(
        &course.samples,
        &course.sounds,
        &faults,
        plan.bath_degc,
        &mut noise,
    );
    number_rows(&mut course, &rows);
    let heading = Heading {
        run: &run.id,
        operator: &run.operator,
        day: plan.day,
        start_s: run.start_s,
    };
    let bytes = dialect::write(logger, &heading, &rows);
    let recorded = Recorded {
        rows: rows.len(),
        ends_s: rows.last().map_or(0.0, |row| row.t),
        rig: rig_path(logger),
        faults,
    };
    let truth = run_truth(plan, run, &course, recorded, sheets);
    Ok((bytes, truth))
}

/// Give each event the first data row at or after it, gaps and doubled rows counted as they lie in the file.
fn number_rows(course: &mut Course, rows: &[Row]) {
    for event in &mut course.events {
        event.row = rows.partition_point(|row| row.t < event.t_s);
    }
}

/// What came of a run, from what happened in it.
fn outcome_of(course: &Course) -> Outcome {
    let Some(ring) = &course.specimen.ring else {
        return Outcome::Reference;
    };
    let had = |kind: &str| course.events.iter().any(|event| event.kind == kind);
    if ring.broken > 0 {
        Outcome::Fractured
    } else if had("burst") {
        Outcome::Burst
    } else if had("leak") {
        Outcome::Leak
    } else if had("slip") {
        Outcome::Slip
    } else if ring.unloaded_bore_mm() - ring.first_bore_mm > STRETCHED_MM {
        Outcome::Stretched
    } else {
        Outcome::Unchanged
    }
}

/// The inspection note.
fn note_of(run: &RunPlan, outcome: Outcome) -> String {
    match &run.inspection {
        InspectionNote::Missing => String::new(),
        InspectionNote::Says(word) => word.clone(),
        InspectionNote::AsSeen => match outcome {
            Outcome::Fractured => "fractured",
            Outcome::Burst => "burst",
            Outcome::Leak => "leak",
            Outcome::Slip => "slip",
            Outcome::Stretched | Outcome::Unchanged => "intact",
            Outcome::Invalid | Outcome::Reference => "",
        }
        .to_owned(),
    }
}

/// What became of a run's recording.
struct Recorded {
    rows: usize,
    ends_s: f64,
    rig: String,
    faults: Vec<Fault>,
}

fn run_truth(
    plan: &Plan,
    run: &RunPlan,
    course: &Course,
    recorded: Recorded,
    sheets: &mut Sheets,
) -> TrueRun {
    let outcome = outcome_of(course);
    let inspection = note_of(run, outcome);
    let disagrees = outcome == Outcome::Fractured && inspection == "intact";
    let mut truth = TrueRun {
        run_id: run.id.clone(),
        kind: run.kind(),
        arm: run.arm.clone(),
        construction: run.frame.as_ref().map(|f| f.construction.name.clone()),
        rig: recorded.rig,
        outcome,
        also_fair: if disagrees {
            vec![Outcome::Stretched, Outcome::Unchanged]
        } else {
            Vec::new()
        },
        inspection,
        breaks: course.specimen.ring.as_ref().map_or(0, |ring| ring.broken),
        highest_pressure_kpa: course.highest_kpa,
        contact_length_mm: run.frame.as_ref().map(|_| run.seat.contact_length_mm),
        rows: recorded.rows,
        ends_s: recorded.ends_s,
        faults: recorded.faults.iter().map(Fault::words).collect(),
        spoilt: recorded.faults,
        phases: course.phases.clone(),
        events: course.events.clone(),
        loads: course.loads.clone(),
        band_height_mm: run.frame.as_ref().map(|f| f.band_height_mm),
        diameters: None,
        areas: None,
        outlines: BTreeMap::new(),
        flow: BTreeMap::new(),
    };
    if let Some(ring) = &course.specimen.ring {
        let pushed = matches!(
            outcome,
            Outcome::Fractured | Outcome::Stretched | Outcome::Unchanged
        );
        let loaded = course.loaded_mm.filter(|_| pushed);
        let (before, after) = (ring.first_bore_mm, ring.unloaded_bore_mm());
        let mut draws = Draws::new(plan.seed, &format!("{}: edges", run.id));
        let edges = inspect::edges(before, loaded, after, ring.broken, &mut draws);
        truth.outlines = inspect::gauge(sheets, plan, run, &edges);
        truth.flow = inspect::flow(sheets, plan, run, before, after);
        inspect::observe(sheets, plan, run, course);
        truth.diameters = Some(diameters(before, loaded, after));
        truth.areas = Some(TrueAreas {
            before_mm2: inspect::circle(before),
            loaded_mm2: loaded.map(inspect::circle),
            after_mm2: inspect::circle(after),
            gain: (after / before).powi(2) - 1.0,
        });
    }
    truth
}

fn diameters(before: f64, loaded: Option<f64>, after: f64) -> TrueDiameters {
    TrueDiameters {
        before_mm: before,
        loaded_mm: loaded,
        after_mm: after,
        recoil: loaded.map(|d| (d - after) / d),
        set_mm: after - before,
        set_ratio: (after - before) / before,
        recovery: loaded
            .filter(|d| *d > before)
            .map(|d| (d - after) / (d - before)),
    }
}

fn truth_of(plan: &Plan, runs: Vec<TrueRun>) -> Truth {
    let balloons = plan
        .balloons
        .iter()
        .map(|model| {
            let pressure_kpa: Vec<f64> = (1..=16).map(|k| 100.0 * f64::from(k)).collect();
            let of = |f: &dyn Fn(f64) -> f64| pressure_kpa.iter().map(|p| f(*p)).collect();
            TrueBalloon {
                balloon_id: model.id.clone(),
                unfolded_diameter_mm: model.balloon.unfolded_diameter_mm,
                diameter_mm: of(&|p| model.balloon.full_diameter(p)),
                volume_ml: of(&|p| model.balloon.volume_free(p)),
                pressure_kpa,
            }
        })
        .collect();
    let operators = plan.runs.iter().filter(|run| run.kind() == RunKind::Frame);
    Truth {
        schema: TRUTH_SCHEMA,
        study: plan.name.clone(),
        title: plan.title.clone(),
        line: TrueLine {
            compliance_ml_per_kpa: plan.line.compliance_ml_per_kpa,
            trapped_air_ml: plan.line.trapped_air_ml,
            ambient_kpa: plan.line.ambient_kpa,
        },
        balloons,
        operator_bias_mm: operators
            .map(|run| {
                let bias = inspect::operator_bias(plan.seed, &run.operator);
                (run.operator.clone(), bias)
            })
            .collect(),
        runs,
    }
}
