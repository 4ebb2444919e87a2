//! `charts.csv`: what makers say of their balloons.

use super::row::Row;
use super::source::Table;
use crate::recording::{ChartRow, Finding, Place, Severity};
use crate::units::Dimension;

/// A point of a chart with its line, and as it is written there.
struct Point {
    line: u64,
    row: ChartRow,
    pressure: String,
    diameter: String,
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
    let mut points = Vec::new();
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
        points.push(Point {
            line: row.line,
            row: ChartRow {
                balloon_id,
                pressure_kpa: pressure.unit.to_bench(p),
                diameter_mm: diameter.unit.to_bench(d),
            },
            pressure: format!("{p} {}", pressure.unit.symbol),
            diameter: format!("{d} {}", diameter.unit.symbol),
        });
    }
    findings.extend(contradictions(&points, &table.file));
    points.into_iter().map(|point| point.row).collect()
}

/// Neighbouring points of a chart that cannot both be true: two diameters at one pressure, or a balloon that shrinks as it is inflated.
fn contradictions(points: &[Point], file: &str) -> Vec<Finding> {
    let mut sorted: Vec<&Point> = points.iter().collect();
    // Stable: of one pressure the later row is the one that contradicts.
    sorted.sort_by(|a, b| {
        let balloons = a.row.balloon_id.cmp(&b.row.balloon_id);
        balloons.then(a.row.pressure_kpa.total_cmp(&b.row.pressure_kpa))
    });
    let neighbours = sorted.iter().zip(sorted.iter().skip(1));
    neighbours
        .filter(|(a, b)| a.row.balloon_id == b.row.balloon_id)
        .filter_map(|(a, b)| {
            let balloon = &b.row.balloon_id;
            let (code, message) = if a.row.pressure_kpa < b.row.pressure_kpa {
                let message = format!(
                    "the chart of {balloon} falls from {} at {} (line {}) to {} at {}; a balloon does not shrink as its pressure rises",
                    a.diameter, a.pressure, a.line, b.diameter, b.pressure
                );
                (b.row.diameter_mm < a.row.diameter_mm).then_some(("chart-falls", message))
            } else {
                let message = format!(
                    "the chart of {balloon} has {} at {}, and {} in line {}; one diameter at a pressure was expected",
                    b.diameter, b.pressure, a.diameter, a.line
                );
                let differ = a.row.diameter_mm.total_cmp(&b.row.diameter_mm).is_ne();
                differ.then_some(("chart-two-diameters", message))
            }?;
            Some(
                Finding::doubt(code, message)
                    .at(Place::cell(file, b.line, "diameter"))
                    .effect("both points stand in the chart, and the diameters of the balloon follow them where nothing better is known")
                    .help("compare both rows with the maker's chart: a digit or a balloon_id may be wrong"),
            )
        })
        .collect()
}
