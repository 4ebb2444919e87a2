//! `calipers.csv` and `contours.csv`: how wide the frame was.

use super::row::{Places, Row, STAGES};
use super::source::Table;
use crate::recording::{CaliperRow, Contour, Finding, GaugeMethod, Place, Severity, Stage};
use crate::rig::Rig;
use crate::units::{self, Dimension, Unit};

const METHODS: &[(&str, GaugeMethod)] = &[
    ("caliper", GaugeMethod::Caliper),
    ("plug", GaugeMethod::Plug),
    ("optical", GaugeMethod::Optical),
];
/// Column of the scale of outlines in pixels, mm/px.
const SCALE: &str = "scale_mm_per_px";
/// Points an outline needs at least to enclose an area.
const LEAST_POINTS: usize = 3;

/// Reads the caliper and plug readings.
pub(super) fn calipers(table: &Table, findings: &mut Vec<Finding>) -> Vec<CaliperRow> {
    let in_name = table.unit_column("value", Dimension::Length);
    let needed: &[&str] = if in_name.is_some() {
        &["run_id", "stage"]
    } else {
        &["run_id", "stage", "value", "unit"]
    };
    if let Some(error) = table.missing(needed) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.unknown(
        &[
            "run_id",
            "stage",
            "method",
            "orientation_deg",
            "repeat",
            "operator",
            "unit",
        ],
        &["value"],
    ));
    let mut rows = Vec::new();
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        rows.extend(caliper(
            &mut row,
            table,
            in_name.map(|column| (column.at, column.unit)),
        ));
    }
    rows
}

fn caliper(
    row: &mut Row<'_, '_>,
    table: &Table,
    in_name: Option<(usize, &'static Unit)>,
) -> Option<CaliperRow> {
    let run_id = row.needed("run_id")?.to_owned();
    let stage = row.stage()?;
    let method = row
        .word("method", METHODS, Severity::Error)
        .ok()?
        .unwrap_or(GaugeMethod::Caliper);
    let (at, unit) = match in_name {
        Some((at, unit)) => (Some(at), unit),
        None => (table.column("value"), length_unit(row)?),
    };
    let Some(value) = row.number_at(at, "value", Severity::Error).ok()? else {
        row.report(
            Severity::Doubt,
            "cell-empty",
            "value",
            "the reading is empty and was left out".to_owned(),
            None,
        );
        return None;
    };
    if value <= 0.0 {
        row.report(
            Severity::Error,
            "value-out-of-range",
            "value",
            format!("a diameter of {value} was left out; a number above 0 was expected"),
            None,
        );
        return None;
    }
    Some(CaliperRow {
        run_id,
        stage,
        method,
        orientation_deg: row.number("orientation_deg"),
        repeat: row.number("repeat").map(|number| number as u32),
        operator: row.owned("operator"),
        value_mm: unit.to_bench(value),
        line: row.line,
        stands_off: false,
    })
}

/// The length unit of the `unit` cell.
fn length_unit(row: &mut Row<'_, '_>) -> Option<&'static Unit> {
    let text = row.text("unit").unwrap_or_default();
    let unit = units::find(text).filter(|unit| unit.dimension == Dimension::Length);
    if unit.is_none() {
        let found = if text.is_empty() {
            "the row names no unit".to_owned()
        } else {
            format!("\"{text}\" is no known unit of length")
        };
        row.report(
            Severity::Error,
            "unknown-unit",
            "unit",
            format!("{found}; mm, um, cm or in was expected, the row was left out"),
            units::nearest(text).map(|near| format!("did you mean \"{near}\"?")),
        );
    }
    unit
}

/// One outline while its points are gathered.
struct Outline {
    run_id: String,
    stage: Stage,
    points: Vec<(f64, f64)>,
    unit: String,
    scale: Option<f64>,
    line: u64,
    lost: usize,
}

/// Reads the outlines; those in pixels need a scale from the table or the rig.
pub(super) fn contours(
    table: &Table,
    rig: Option<&Rig>,
    findings: &mut Vec<Finding>,
) -> Vec<Contour> {
    let in_name = table
        .unit_column("x", Dimension::Length)
        .zip(table.unit_column("y", Dimension::Length));
    let needed: &[&str] = if in_name.is_some() {
        &["run_id", "stage"]
    } else {
        &["run_id", "stage", "x", "y"]
    };
    if let Some(error) = table.missing(needed) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.unknown(&["run_id", "stage", "unit", SCALE], &["x", "y"]));
    let (x, y) = match in_name {
        Some((x, y)) => (Some(x.at), Some(y.at)),
        None => (table.column("x"), table.column("y")),
    };
    let (unit, scale) = (table.column("unit"), table.column(SCALE));
    let mut outlines: Vec<Outline> = Vec::new();
    let mut places = Places::default();
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        let Some((run_id, stage)) = row.run_and_stage() else {
            continue;
        };
        let at = places.of((run_id, stage), outlines.len());
        if at == outlines.len() {
            outlines.push(Outline {
                run_id: run_id.to_owned(),
                stage,
                points: Vec::new(),
                unit: match in_name {
                    Some((x, _)) => x.unit.symbol.to_owned(),
                    None => row.cell(unit).to_lowercase(),
                },
                scale: None,
                line: row.line,
                lost: 0,
            });
        }
        let scale = row.number_at(scale, SCALE, Severity::Doubt).ok().flatten();
        let point = (
            row.number_at(x, "x", Severity::Error).ok().flatten(),
            row.number_at(y, "y", Severity::Error).ok().flatten(),
        );
        if let Some(outline) = outlines.get_mut(at) {
            outline.scale = outline.scale.or(scale);
            match point {
                (Some(x), Some(y)) => outline.points.push((x, y)),
                _ => outline.lost += 1,
            }
        }
    }
    outlines
        .into_iter()
        .filter_map(|outline| scaled(outline, table, rig, findings))
        .collect()
}

fn scaled(
    outline: Outline,
    table: &Table,
    rig: Option<&Rig>,
    findings: &mut Vec<Finding>,
) -> Option<Contour> {
    let stage = STAGES
        .iter()
        .find(|(_, stage)| *stage == outline.stage)
        .map_or("", |(word, _)| word);
    let mut report = |severity, code: &str, column: &str, message: String, help: &str| {
        findings.push(
            Finding::new(severity, code, message)
                .at(Place::cell(&table.file, outline.line, column))
                .run(&outline.run_id)
                .help(help),
        );
    };
    if outline.lost > 0 {
        report(
            Severity::Doubt,
            "contour-points-lost",
            "x",
            format!(
                "{} points of the outline of {} {stage} have no coordinates and were left out",
                outline.lost, outline.run_id
            ),
            "mend or delete these rows",
        );
    }
    if outline.points.len() < LEAST_POINTS {
        report(
            Severity::Doubt,
            "contour-too-short",
            "x",
            format!(
                "the outline of {} {stage} has {} points; it was left out",
                outline.run_id,
                outline.points.len()
            ),
            "an outline needs at least three points, better a hundred",
        );
        return None;
    }
    let (factor, mm_per_px, u_scale_rel) = if matches!(
        outline.unit.as_str(),
        "px" | "pixel" | "pixels"
    ) {
        let own = outline.scale.filter(|scale| *scale > 0.0);
        let Some(scale) = own.or_else(|| rig.and_then(|rig| rig.mm_per_px)) else {
            report(
                Severity::Error,
                "contour-no-scale",
                SCALE,
                format!(
                    "the outline of {} {stage} is in pixels without a scale; it was left out",
                    outline.run_id
                ),
                "fill the column scale_mm_per_px, or give mm_per_px in [geometry] of the rig",
            );
            return None;
        };
        (scale, Some(scale), rig.and_then(|rig| rig.u_mm_per_px_rel))
    } else {
        let Some(unit) =
            units::find(&outline.unit).filter(|unit| unit.dimension == Dimension::Length)
        else {
            report(
                Severity::Error,
                "unknown-unit",
                "unit",
                format!(
                    "the outline of {} {stage} is in \"{}\", no known unit of length; it was left out",
                    outline.run_id, outline.unit
                ),
                "write mm or px",
            );
            return None;
        };
        (unit.factor, None, None)
    };
    Some(Contour {
        run_id: outline.run_id,
        stage: outline.stage,
        points_mm: outline
            .points
            .iter()
            .map(|(x, y)| (x * factor, y * factor))
            .collect(),
        u_scale_rel,
        mm_per_px,
        line: outline.line,
    })
}
