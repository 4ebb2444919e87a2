//! `images.csv` and `leaflets.csv`: photographs of the opening and how to measure them, and free edges marked in them.

use super::row::{Places, Row};
use super::runs::inner;
use super::source::Table;
use crate::recording::{
    Finding, ImageScale, LeafletRow, OpeningSide, PhotographRow, Severity, Shows, Tone,
};
use crate::rig::Rig;
use crate::units::{self, Dimension};
use std::path::Path;

const SIDES: &[(&str, OpeningSide)] = &[
    ("dark", OpeningSide::Dark),
    ("bright", OpeningSide::Bright),
    ("auto", OpeningSide::Auto),
];
const TONES: &[(&str, Tone)] = &[("linear", Tone::Linear), ("srgb", Tone::Srgb)];
const SHOWS: &[(&str, Shows)] = &[("ring", Shows::Ring), ("orifice", Shows::Orifice)];
const USES: &[(&str, bool)] = &[("yes", true), ("no", false)];
const GAUGE: [&str; 5] = ["gauge_mm", "gauge_x1", "gauge_y1", "gauge_x2", "gauge_y2"];
/// Standard uncertainty of an end of a gauge in the picture where nobody declared one, px (common practice, no source).
const DEFAULT_U_GAUGE_PX: f64 = 1.0;
/// A gauge is at least so many pixels long: one shorter gives a scale worse than a tenth.
const SHORTEST_GAUGE_PX: f64 = 10.0;
/// Columns known.
const KNOWN: &[&str] = &[
    "run_id",
    "stage",
    "file",
    "mm_per_px",
    "u_mm_per_px_rel",
    "gauge_mm",
    "gauge_x1",
    "gauge_y1",
    "gauge_x2",
    "gauge_y2",
    "u_gauge_px",
    "threshold",
    "orifice",
    "shows",
    "tone",
    "centre_x",
    "centre_y",
    "use",
    "note",
];

/// Reads the photographs.
pub(super) fn images(
    table: &Table,
    folder: &Path,
    rig: Option<&Rig>,
    findings: &mut Vec<Finding>,
) -> Vec<PhotographRow> {
    if let Some(error) = table.missing(&["run_id", "stage", "file"]) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.unknown(KNOWN, &[]));
    let mut rows: Vec<PhotographRow> = Vec::new();
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        let Some(read) = image(&mut row, table, folder, rig) else {
            continue;
        };
        let same = |other: &PhotographRow| {
            other.used && other.run_id == read.run_id && other.stage == read.stage
        };
        if read.used
            && let Some(first) = rows.iter().find(|other| same(other))
        {
            row.report(
                Severity::Error,
                "photograph-twice",
                "use",
                format!(
                    "a photograph of this run and stage stands on line {} already; this row was left out",
                    first.line
                ),
                Some("write no in the column use of all but one".to_owned()),
            );
            continue;
        }
        rows.push(read);
    }
    rows
}

fn image(
    row: &mut Row<'_, '_>,
    table: &Table,
    folder: &Path,
    rig: Option<&Rig>,
) -> Option<PhotographRow> {
    let (run_id, stage) = row.run_and_stage()?;
    row.needed("file")?;
    let file = inner(row, folder, "file")?;
    let side = row.word("orifice", SIDES, Severity::Error).ok()?;
    let tone = row.word("tone", TONES, Severity::Error).ok()?;
    let shows = row.word("shows", SHOWS, Severity::Error).ok()?;
    let used = row.word("use", USES, Severity::Error).ok()?;
    Some(PhotographRow {
        run_id: run_id.to_owned(),
        stage,
        file,
        scale: scale(row, rig).ok()?,
        threshold: not_negative(row, "threshold").ok()?,
        side: side.unwrap_or_default(),
        tone: tone.unwrap_or_default(),
        shows: shows.unwrap_or_default(),
        centre_x: not_negative(row, "centre_x").ok()?,
        centre_y: not_negative(row, "centre_y").ok()?,
        used: used.unwrap_or(true),
        table: table.file.clone(),
        line: row.line,
    })
}

/// The scale: of the row, of a gauge in the picture, of the rig, or none; `Err` where what stands in the row cannot be used.
fn scale(row: &mut Row<'_, '_>, rig: Option<&Rig>) -> Result<Option<ImageScale>, ()> {
    let declared = positive(row, "mm_per_px")?;
    let u_declared = positive(row, "u_mm_per_px_rel")?;
    let given: Vec<&str> = GAUGE
        .into_iter()
        .filter(|name| row.text(name).is_some())
        .collect();
    if let Some(mm_per_px) = declared {
        if let Some(column) = given.first() {
            row.report(
                Severity::Doubt,
                "scale-twice",
                column,
                "the row gives both mm_per_px and a gauge; mm_per_px is used".to_owned(),
                Some("leave one of the two empty".to_owned()),
            );
        }
        return Ok(Some(ImageScale {
            mm_per_px,
            u_rel: u_declared,
            source: "mm_per_px of the table".to_owned(),
        }));
    }
    if given.is_empty() {
        return Ok(rig.and_then(|rig| {
            Some(ImageScale {
                mm_per_px: rig.mm_per_px.filter(|scale| *scale > 0.0)?,
                u_rel: rig.u_mm_per_px_rel,
                source: "mm_per_px of the rig".to_owned(),
            })
        }));
    }
    if let Some(missing) = GAUGE.into_iter().find(|name| !given.contains(name)) {
        row.report(
            Severity::Error,
            "gauge-incomplete",
            missing,
            format!(
                "a gauge needs {}; {missing} is empty, the row was left out",
                GAUGE.join(", ")
            ),
            Some("give both ends of the gauge in pixels and its length in mm".to_owned()),
        );
        return Err(());
    }
    let gauge_mm = positive(row, "gauge_mm")?.ok_or(())?;
    let mut ends = [0.0; 4];
    for (end, name) in ends.iter_mut().zip(GAUGE.into_iter().skip(1)) {
        *end = not_negative(row, name)?.ok_or(())?;
    }
    let [x1, y1, x2, y2] = ends;
    let length = (x2 - x1).hypot(y2 - y1);
    if length < SHORTEST_GAUGE_PX {
        row.report(
            Severity::Error,
            "gauge-too-short",
            "gauge_x2",
            format!("the ends of the gauge are {length:.1} px apart; at least {SHORTEST_GAUGE_PX} px were expected, the row was left out"),
            None,
        );
        return Err(());
    }
    let u_end = positive(row, "u_gauge_px")?;
    let u = u_end.unwrap_or(DEFAULT_U_GAUGE_PX);
    let assumed = if u_end.is_none() { " (assumed)" } else { "" };
    Ok(Some(ImageScale {
        mm_per_px: gauge_mm / length,
        u_rel: Some(2.0_f64.sqrt() * u / length),
        source: format!("gauge of {gauge_mm} mm over {length:.1} px, each end to {u} px{assumed}"),
    }))
}

/// A number above 0 that may be empty.
fn positive(row: &mut Row<'_, '_>, name: &str) -> Result<Option<f64>, ()> {
    within(row, name, |value| value > 0.0, "a number above 0")
}

/// A number that is not below 0 and may be empty.
fn not_negative(row: &mut Row<'_, '_>, name: &str) -> Result<Option<f64>, ()> {
    within(row, name, |value| value >= 0.0, "a number not below 0")
}

fn within(
    row: &mut Row<'_, '_>,
    name: &str,
    allowed: fn(f64) -> bool,
    expected: &str,
) -> Result<Option<f64>, ()> {
    let column = row.column(name);
    let value = row.number_at(column, name, Severity::Error)?;
    match value {
        Some(value) if !allowed(value) => {
            row.report(
                Severity::Error,
                "value-out-of-range",
                name,
                format!("{name} is {value}; {expected} was expected, the row was left out"),
                None,
            );
            Err(())
        }
        value => Ok(value),
    }
}

/// Reads the marked free edges.
pub(super) fn leaflets(table: &Table, findings: &mut Vec<Finding>) -> Vec<LeafletRow> {
    if let Some(error) = table.missing(&["run_id", "stage", "leaflet", "x", "y", "unit"]) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.unknown(
        &[
            "run_id", "stage", "leaflet", "x", "y", "unit", "u_point", "note",
        ],
        &[],
    ));
    let mut edges: Vec<LeafletRow> = Vec::new();
    let mut places = Places::default();
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        let Some((run_id, stage)) = row.run_and_stage() else {
            continue;
        };
        let Some(leaflet) = row.needed("leaflet") else {
            continue;
        };
        let (Ok(Some(x)), Ok(Some(y))) = (coordinate(&mut row, "x"), coordinate(&mut row, "y"))
        else {
            continue;
        };
        let Some(unit) = length_unit(&mut row) else {
            continue;
        };
        let Ok(u_point) = positive(&mut row, "u_point") else {
            continue;
        };
        let at = places.of((run_id, stage, leaflet), edges.len());
        if at == edges.len() {
            edges.push(LeafletRow {
                run_id: run_id.to_owned(),
                stage,
                leaflet: leaflet.to_owned(),
                points: Vec::new(),
                unit: unit.0.to_owned(),
                u_point: None,
                table: table.file.clone(),
                line: row.line,
            });
        }
        if let Some(edge) = edges.get_mut(at) {
            if edge.unit != unit.0 {
                row.report(
                    Severity::Error,
                    "unit-changes",
                    "unit",
                    format!("the edge began in {}; the row was left out", edge.unit),
                    Some("mark one edge in one unit".to_owned()),
                );
                continue;
            }
            edge.u_point = edge.u_point.or(u_point.map(|u| u * unit.1));
            edge.points.push((x * unit.1, y * unit.1));
        }
    }
    edges
}

/// A coordinate, which must be there.
fn coordinate(row: &mut Row<'_, '_>, name: &str) -> Result<Option<f64>, ()> {
    row.needed(name).ok_or(())?;
    let column = row.column(name);
    row.number_at(column, name, Severity::Error)
}

/// `px` or `mm`, and the factor of the unit.
fn length_unit(row: &mut Row<'_, '_>) -> Option<(&'static str, f64)> {
    let text = row.needed("unit")?;
    if text.eq_ignore_ascii_case("px") {
        return Some(("px", 1.0));
    }
    if let Some(unit) = units::find(text).filter(|unit| unit.dimension == Dimension::Length) {
        return Some(("mm", unit.factor));
    }
    row.report(
        Severity::Error,
        "unknown-unit",
        "unit",
        format!(
            "\"{text}\" is no known unit of length; px or mm was expected, the row was left out"
        ),
        None,
    );
    None
}
