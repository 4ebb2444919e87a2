//! `frames.csv`, `balloons.csv`, `charts.csv`: what was tested, and with what.

use super::row::Row;
use super::source::Table;
use crate::recording::{BalloonRow, ChartRow, Finding, FrameRow, Severity};
use crate::units::Dimension;

/// Reads the frames.
pub(super) fn frames(table: &Table, findings: &mut Vec<Finding>) -> Vec<FrameRow> {
    if let Some(error) = table.missing(&["frame_id"]) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.unknown(
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
        frames.push(FrameRow {
            construction: row.owned("construction"),
            label_size_mm: row.length_mm("label_size"),
            true_id_mm: row.length_mm("true_id"),
            stent_id_mm: row.length_mm("stent_id"),
            outer_diameter_mm: row.length_mm("outer_diameter"),
            band_height_mm: row.length_mm("band_height"),
            frame_id,
        });
    }
    frames
}

/// Reads the balloons.
pub(super) fn balloons(table: &Table, findings: &mut Vec<Finding>) -> Vec<BalloonRow> {
    if let Some(error) = table.missing(&["balloon_id"]) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.unknown(
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
        balloons.push(BalloonRow {
            nominal_diameter_mm: row.length_mm("nominal_diameter"),
            working_length_mm: row.length_mm("working_length"),
            nominal_pressure_kpa: row.pressure_kpa("nominal_pressure"),
            rated_burst_pressure_kpa: row.pressure_kpa("rated_burst_pressure"),
            lot: row.owned("lot"),
            balloon_id,
        });
    }
    balloons
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

/// Reads the makers' charts.
pub(super) fn charts(table: &Table, findings: &mut Vec<Finding>) -> Vec<ChartRow> {
    if let Some(error) = table.missing(&["balloon_id"]) {
        findings.push(error);
        return Vec::new();
    }
    let pressure = table.unit_column("pressure", Dimension::Pressure);
    let diameter = table.unit_column("diameter", Dimension::Length);
    let (Some(pressure), Some(diameter)) = (pressure, diameter) else {
        findings.push(
            table
                .at_header(Finding::error(
                    "table-column-missing",
                    format!(
                        "{} needs columns pressure_<unit> and diameter_mm; it has {}",
                        table.file,
                        table.columns.join(", ")
                    ),
                ))
                .help("name the unit in the column: pressure_atm, pressure_kpa, pressure_bar"),
        );
        return Vec::new();
    };
    let mut charts = Vec::new();
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        let Some(balloon_id) = row.needed("balloon_id").map(str::to_owned) else {
            continue;
        };
        let read = |row: &mut Row<'_, '_>, at, name| {
            row.number_at(Some(at), name, Severity::Error)
                .ok()
                .flatten()
        };
        let (Some(p), Some(d)) = (
            read(&mut row, pressure.at, "pressure"),
            read(&mut row, diameter.at, "diameter"),
        ) else {
            continue;
        };
        if d <= 0.0 || p < 0.0 {
            row.report(
                Severity::Doubt,
                "value-out-of-range",
                "diameter",
                format!("a chart point with pressure {p} and diameter {d} was left out; both are above 0"),
                None,
            );
            continue;
        }
        charts.push(ChartRow {
            balloon_id,
            pressure_kpa: pressure.unit.to_bench(p),
            diameter_mm: diameter.unit.to_bench(d),
        });
    }
    charts
}
