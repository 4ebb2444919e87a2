//! `runs.csv`: one row a run, units in the column names.

use super::flat::{Row, csv};
use crate::recording::{Analysis, PressureDefinition, RunResult, Severity};

/// The runs of an analysis as a flat table.
///
/// # Errors
///
/// The writer's error; none is expected in memory.
pub fn runs_csv(analysis: &Analysis) -> Result<Vec<u8>, csv::Error> {
    let rows: Vec<Row> = analysis
        .runs
        .iter()
        .map(|run| row(run, analysis.study.definition))
        .collect();
    // A study without runs still gives a table: its key column.
    let header = rows
        .first()
        .map_or_else(|| vec!["run_id".to_owned()], |row| row.names.clone());
    csv(&header, &rows)
}

/// `fracture_pressure` is that of the study's definition: its lower end, and the upper one beside it, where an interval is known.
fn row(run: &RunResult, definition: PressureDefinition) -> Row {
    let mut row = Row::default();
    let words = |text: &Option<String>| text.clone().unwrap_or_default();
    row.text("run_id", &run.run_id);
    row.text("kind", format!("{:?}", run.kind).to_lowercase());
    row.text("frame_id", words(&run.frame_id));
    row.text("balloon_id", words(&run.balloon_id));
    row.text("inner_valve", words(&run.inner_valve));
    row.text("arm", words(&run.arm));
    row.text("operator", words(&run.operator));
    row.text("started_at", words(&run.started_at));
    row.text("trace", words(&run.trace));
    row.text(
        "inspection",
        run.inspection
            .map_or_else(String::new, |i| format!("{i:?}").to_lowercase()),
    );
    row.text("outcome", run.outcome.word());
    row.text("outcome_reason", &run.outcome_reason);
    let fracture = run.first_fracture();
    row.number("fracture_time_s", fracture.and_then(|e| e.t_s));
    let pressure = run.fracture_pressure(definition);
    row.quantity("fracture_pressure", "kPa", pressure.map(|(p, _)| p));
    if definition == PressureDefinition::LastCompletedStep {
        let at_most = pressure.and_then(|(_, at_most)| at_most);
        row.quantity("fracture_pressure_at_most", "kPa", at_most);
    }
    row.quantity("fracture_drop", "kPa", fracture.map(|e| &e.drop));
    row.text(
        "fracture_grade",
        fracture.map_or_else(String::new, |e| grade(e.grade)),
    );
    row.quantity("highest_pressure", "kPa", Some(&run.highest_pressure));
    let line = run.line.as_ref();
    row.quantity("line_compliance", "mL/kPa", line.map(|l| &l.compliance));
    row.quantity("trapped_air", "mL", line.map(|l| &l.trapped_air));
    let balloon = run.balloon.as_ref();
    row.quantity(
        "balloon_diameter_at_nominal",
        "mm",
        balloon.map(|b| &b.diameter_at_nominal),
    );
    row.quantity(
        "balloon_diameter_at_rated",
        "mm",
        balloon.map(|b| &b.diameter_at_rated),
    );
    let frame = run.frame.as_ref();
    row.quantity("peak_load", "kPa", frame.map(|f| &f.peak_load));
    row.quantity("peak_tension", "N/mm", frame.map(|f| &f.peak_tension));
    row.quantity("peak_force", "N", frame.map(|f| &f.peak_force));
    row.quantity("fracture_load", "kPa", frame.map(|f| &f.fracture_load));
    row.quantity(
        "fracture_tension",
        "N/mm",
        frame.map(|f| &f.fracture_tension),
    );
    row.quantity("frame_compliance", "mm/kPa", frame.map(|f| &f.compliance));
    row.quantity("yield_load", "kPa", frame.map(|f| &f.yield_load));
    row.quantity(
        "offset_yield_load",
        "kPa",
        frame.map(|f| &f.offset_yield_load),
    );
    row.quantity("hardening", "kPa/mm", frame.map(|f| &f.hardening));
    row.quantity("work", "mJ", frame.map(|f| &f.work));
    row.quantity("energy_stored", "mJ", frame.map(|f| &f.energy_stored));
    row.quantity("energy_released", "mJ", frame.map(|f| &f.energy_released));
    row.quantity("loop_work", "mJ", frame.map(|f| &f.loop_work));
    row.quantity("residual_load", "kPa", frame.map(|f| &f.residual_load));
    row.quantity("peak_over_rated", "1", frame.map(|f| &f.peak_over_rated));
    row.quantity("oversize_true_id", "mm", frame.map(|f| &f.oversize_true_id));
    row.quantity(
        "oversize_stent_id",
        "mm",
        frame.map(|f| &f.oversize_stent_id),
    );
    let d = run.diameters.as_ref();
    row.quantity("diameter_before", "mm", d.map(|d| &d.before));
    row.quantity("diameter_loaded", "mm", d.map(|d| &d.loaded));
    row.quantity("diameter_after", "mm", d.map(|d| &d.after));
    row.quantity("diameter_at_event", "mm", d.map(|d| &d.at_event));
    row.quantity("set", "mm", d.map(|d| &d.set));
    row.quantity("set_ratio", "1", d.map(|d| &d.set_ratio));
    row.quantity("recoil", "1", d.map(|d| &d.recoil));
    row.quantity("recovery", "1", d.map(|d| &d.recovery));
    let a = run.areas.as_ref();
    row.quantity("area_before", "mm2", a.map(|a| &a.before));
    row.quantity("area_loaded", "mm2", a.map(|a| &a.loaded));
    row.quantity("area_after", "mm2", a.map(|a| &a.after));
    row.quantity("area_gain", "1", a.map(|a| &a.gain));
    for stage in ["before", "after"] {
        let flow = run.flow.get(stage);
        row.quantity(
            &format!("effective_orifice_area_{stage}"),
            "cm2",
            flow.map(|f| &f.effective_orifice_area),
        );
        row.quantity(
            &format!("mean_gradient_{stage}"),
            "mmHg",
            flow.map(|f| &f.mean_gradient),
        );
    }
    row.number("noise_kpa", Some(run.recording.noise_kpa));
    row.number("rate_hz", Some(run.recording.rate_hz));
    let count = |severity| {
        run.findings
            .iter()
            .filter(|f| f.severity == severity)
            .count()
            .to_string()
    };
    row.text("doubts", count(Severity::Doubt));
    row.text("errors", count(Severity::Error));
    row
}

/// The words of a grade as results.json has them.
pub(super) fn grade(grade: crate::recording::Grade) -> String {
    use crate::recording::Grade;
    match grade {
        Grade::Agree => "trace and inspection agree",
        Grade::TraceOnly => "trace only",
        Grade::InspectionOnly => "inspection only",
        Grade::Disagree => "disagree",
    }
    .to_owned()
}
