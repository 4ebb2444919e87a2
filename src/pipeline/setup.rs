//! What a run was done with and how, as far as groups are made of it.

use super::{Attempt, Study};
use crate::recording::{Phase, PhaseKind, RunRow, Setup, Trace, mean};
use crate::units::KPA_PER_ATM;
use std::collections::BTreeMap;

/// What the run was done with, as the tables list it, and how fast and warm it was.
pub(super) fn setup(study: &Study, run: &RunRow, attempt: &Attempt) -> Setup {
    let (tables, series) = (&study.tables, &study.file.series);
    let of = |id: &Option<String>| id.clone().unwrap_or_default();
    let (frame_id, balloon_id) = (of(&run.frame_id), of(&run.balloon_id));
    let frame = tables.frames.iter().find(|f| f.frame_id == frame_id);
    let balloon = tables.balloons.iter().find(|b| b.balloon_id == balloon_id);
    let prepared = attempt.prepared.as_ref();
    Setup {
        construction: frame.and_then(|f| f.construction.clone()),
        label_size_mm: frame.and_then(|f| f.label_size_mm),
        inner_valve_told: run.inner_valve_told,
        balloon_model: balloon.and_then(|b| match (b.nominal_diameter_mm, b.working_length_mm) {
            (Some(diameter), Some(length)) => Some(format!("{diameter} × {length} mm")),
            (Some(diameter), None) => Some(format!("{diameter} mm")),
            _ => None,
        }),
        balloon_label: balloon.and_then(|b| {
            let atm = |kpa: f64| (1e4 * kpa / KPA_PER_ATM).round() / 1e4;
            let (nominal, rated) = (b.nominal_pressure_kpa?, b.rated_burst_pressure_kpa?);
            Some(format!(
                "nominal {} and rated {} atm",
                atm(nominal),
                atm(rated)
            ))
        }),
        rise_kpa_s: prepared.and_then(|p| mean_rise(&p.trace, &p.phases)),
        temperature_degc: prepared.and_then(|p| mean(p.trace.temperature_degc.as_ref()?)),
        planned_dose: series.fracture_against.as_ref().and_then(|against| {
            let cell = tables.listed.cell(&against.column, ids(run))?;
            against.level(&cell).ok()
        }),
        listed: listed(study, run),
    }
}

/// The names by which the tables know a run, its frame and its balloon.
pub(super) fn ids(run: &RunRow) -> [Option<&str>; 3] {
    [
        Some(run.run_id.as_str()),
        run.frame_id.as_deref(),
        run.balloon_id.as_deref(),
    ]
}

/// The cells of the columns that runs are grouped by beside the known ones.
fn listed(study: &Study, run: &RunRow) -> BTreeMap<String, String> {
    let columns = study.file.series.group_by.listed();
    let cells = columns.filter_map(|column| {
        let cell = study.tables.listed.cell(column, ids(run))?;
        Some((column.to_owned(), cell.text.to_owned()))
    });
    cells.collect()
}

/// Mean rise of pressure over the strokes of a run, kPa/s.
fn mean_rise(trace: &Trace, phases: &[Phase]) -> Option<f64> {
    let strokes = phases.iter().filter(|p| p.kind == PhaseKind::Stroke);
    let (mut rise, mut time) = (0.0, 0.0);
    for stroke in strokes {
        let last = stroke.end.checked_sub(1)?;
        let by = trace.pressure_kpa.get(last)? - trace.pressure_kpa.get(stroke.start)?;
        // A stroke in which something broke ends lower than it could have.
        if by > 0.0 {
            rise += by;
            time += stroke.t_end_s - stroke.t_start_s;
        }
    }
    (time > 0.0).then(|| rise / time)
}
