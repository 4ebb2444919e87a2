//! The proof as tables for other programs.

use super::compare::Proven;
use super::quantities::Measured;
use super::words::classes;

/// Columns of the table of runs.
const COLUMNS: &[&str] = &[
    "scenario",
    "study",
    "run_id",
    "rate_hz",
    "noise_kpa",
    "counter",
    "inspected",
    "true_outcome",
    "said_outcome",
    "right",
    "what",
    "t_s",
    "pressure_kpa",
    "drop_kpa",
    "drop_over_noise",
    "capacity_ml_per_kpa",
    "hidden",
    "beside_fault",
    "found",
    "error_s",
    "error_samples",
    "inside",
    "interval_s",
    "pressure_error_kpa",
    "u_pressure_kpa",
];

fn number(value: Option<f64>) -> String {
    value.map_or_else(String::new, |v| v.to_string())
}

/// One row for every true break, for every false alarm, and for every run with neither.
///
/// # Errors
/// Never expected: that of the CSV writer, in memory.
pub fn runs_csv(runs: &[Proven]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    for run in runs {
        let head = || {
            vec![
                run.scenario.clone(),
                run.study.clone(),
                run.run_id.clone(),
                run.rate_hz.to_string(),
                run.noise_kpa.to_string(),
                run.counter.to_string(),
                run.inspected.to_string(),
                run.truth.word().to_owned(),
                run.said.word().to_owned(),
                run.right.to_string(),
            ]
        };
        let mut write = |what: &str, cells: Vec<String>| {
            let mut row = head();
            row.push(what.to_owned());
            row.extend(cells);
            row.resize(COLUMNS.len(), String::new());
            writer.write_record(&row)
        };
        for b in &run.breaks {
            let found = b.found.as_ref();
            write(
                "break",
                vec![
                    b.t_s.to_string(),
                    b.pressure_kpa.to_string(),
                    b.drop_kpa.to_string(),
                    b.over_noise.to_string(),
                    b.capacity_ml_per_kpa.to_string(),
                    b.hidden.to_string(),
                    b.beside_fault.to_string(),
                    found.is_some().to_string(),
                    number(found.map(|f| f.error_s)),
                    number(found.map(|f| f.error_samples)),
                    found.map_or_else(String::new, |f| f.inside.to_string()),
                    number(found.map(|f| f.width_s)),
                    number(found.and_then(|f| f.pressure_error_kpa)),
                    number(found.and_then(|f| f.u_kpa)),
                ],
            )?;
        }
        for t in &run.false_alarms {
            write("false alarm", vec![t.to_string()])?;
        }
        if run.breaks.is_empty() && run.false_alarms.is_empty() {
            write("nothing", Vec::new())?;
        }
    }
    writer
        .into_inner()
        .map_err(|error| error.into_error().into())
}

/// One row for every class of every division.
///
/// # Errors
/// Never expected: that of the CSV writer, in memory.
pub fn classes_csv(runs: &[Proven]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "division",
        "class",
        "runs",
        "clear",
        "clear_found",
        "recall",
        "recall_lower_95",
        "recall_upper_95",
        "beside_fault",
        "beside_fault_found",
        "small",
        "small_found",
        "fractures_said",
        "precision",
        "false_alarms",
        "outcome_right",
        "onset_median_samples",
        "onset_95_samples",
        "onset_median_s",
        "onset_95_s",
        "interval_holds",
        "pressure_holds",
    ])?;
    for (division, name, rates) in classes(runs) {
        let limits = rates.recall.limits();
        writer.write_record([
            division.to_owned(),
            name.trim().to_owned(),
            rates.runs.to_string(),
            rates.recall.all.to_string(),
            rates.recall.some.to_string(),
            number(rates.recall.value()),
            number(limits.map(|l| l.0)),
            number(limits.map(|l| l.1)),
            rates.recall_beside.all.to_string(),
            rates.recall_beside.some.to_string(),
            rates.recall_small.all.to_string(),
            rates.recall_small.some.to_string(),
            rates.precision.all.to_string(),
            number(rates.precision.value()),
            rates.false_alarms.to_string(),
            number(rates.outcome.value()),
            number(rates.error_samples.map(|e| e.0)),
            number(rates.error_samples.map(|e| e.1)),
            number(rates.error_s.map(|e| e.0)),
            number(rates.error_s.map(|e| e.1)),
            number(rates.inside.value()),
            number(rates.pressure.value()),
        ])?;
    }
    writer
        .into_inner()
        .map_err(|error| error.into_error().into())
}

/// One row for every measured quantity of known truth.
///
/// # Errors
/// Never expected: that of the CSV writer, in memory.
pub fn quantities_csv(all: &[Measured]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "scenario", "study", "run_id", "family", "quantity", "truth", "said", "u", "unit", "z",
    ])?;
    for m in all {
        writer.write_record([
            m.scenario.clone(),
            m.study.clone(),
            m.run_id.clone(),
            m.family.word().to_owned(),
            m.name.clone(),
            m.truth.to_string(),
            m.said.to_string(),
            number(m.u),
            m.unit.clone(),
            number(m.z()),
        ])?;
    }
    writer
        .into_inner()
        .map_err(|error| error.into_error().into())
}
