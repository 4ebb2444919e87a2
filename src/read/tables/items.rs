//! `frames.csv`, `balloons.csv`: what was tested, and with what.

use super::row::Row;
use super::source::Table;
use crate::recording::{BalloonRow, Finding, FrameRow, Severity};

/// Reads the frames.
pub(super) fn frames(table: &Table, findings: &mut Vec<Finding>) -> Vec<FrameRow> {
    if let Some(error) = table.missing(&["frame_id"]) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.ungrouped(
        &["frame_id", "construction"],
        &[
            "label_size",
            "true_id",
            "stent_id",
            "outer_diameter",
            "band_height",
        ],
    ));
    let mut frames: Vec<FrameRow> = Vec::new();
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        let Some(frame_id) = row.needed("frame_id").map(str::to_owned) else {
            continue;
        };
        if twice(
            &mut row,
            "frame_id",
            &frame_id,
            frames.iter().any(|frame| frame.frame_id == frame_id),
        ) {
            continue;
        }
        let frame = FrameRow {
            construction: row.owned("construction"),
            label_size_mm: row.length_mm("label_size"),
            true_id_mm: row.length_mm("true_id"),
            stent_id_mm: row.length_mm("stent_id"),
            outer_diameter_mm: row.length_mm("outer_diameter"),
            band_height_mm: row.length_mm("band_height"),
            frame_id,
        };
        let sizes = [
            ("true_id", frame.true_id_mm),
            ("stent_id", frame.stent_id_mm),
            ("outer_diameter", frame.outer_diameter_mm),
        ];
        rising(&mut row, "sizes-contradict", &frame.frame_id, "mm", &sizes);
        frames.push(frame);
    }
    frames
}

/// Reads the balloons.
pub(super) fn balloons(table: &Table, findings: &mut Vec<Finding>) -> Vec<BalloonRow> {
    if let Some(error) = table.missing(&["balloon_id"]) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.ungrouped(
        &["balloon_id", "lot"],
        &[
            "nominal_diameter",
            "working_length",
            "nominal_pressure",
            "rated_burst_pressure",
        ],
    ));
    let mut balloons: Vec<BalloonRow> = Vec::new();
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        let Some(balloon_id) = row.needed("balloon_id").map(str::to_owned) else {
            continue;
        };
        if twice(
            &mut row,
            "balloon_id",
            &balloon_id,
            balloons
                .iter()
                .any(|balloon| balloon.balloon_id == balloon_id),
        ) {
            continue;
        }
        let balloon = BalloonRow {
            nominal_diameter_mm: row.length_mm("nominal_diameter"),
            working_length_mm: row.length_mm("working_length"),
            nominal_pressure_kpa: row.pressure_kpa("nominal_pressure"),
            rated_burst_pressure_kpa: row.pressure_kpa("rated_burst_pressure"),
            lot: row.owned("lot"),
            balloon_id,
        };
        let pressures = [
            ("nominal_pressure", balloon.nominal_pressure_kpa),
            ("rated_burst_pressure", balloon.rated_burst_pressure_kpa),
        ];
        rising(
            &mut row,
            "pressures-contradict",
            &balloon.balloon_id,
            "kPa",
            &pressures,
        );
        balloons.push(balloon);
    }
    balloons
}

/// A doubt where numbers that each must be no smaller than the one before it, as far as they are listed, are not.
fn rising(
    row: &mut Row<'_, '_>,
    code: &str,
    name: &str,
    unit: &str,
    listed: &[(&'static str, Option<f64>)],
) {
    let known: Vec<(&str, f64)> = listed
        .iter()
        .filter_map(|(column, value)| Some((*column, (*value)?)))
        .collect();
    for pair in known.windows(2) {
        let [(small, low), (large, high)] = *pair else {
            continue;
        };
        if low > high {
            row.report(
                Severity::Doubt,
                code,
                large,
                format!("{large} of {name}, {high:.2} {unit}, is below {small}, {low:.2} {unit}"),
                Some(format!(
                    "check both numbers and their units; {small} is never the larger"
                )),
            );
        }
    }
}

fn twice(row: &mut Row<'_, '_>, column: &str, name: &str, twice: bool) -> bool {
    if twice {
        row.report(
            Severity::Doubt,
            "row-twice",
            column,
            format!("{name} is listed twice; the first row was kept"),
            None,
        );
    }
    twice
}
