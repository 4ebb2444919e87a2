//! Frames that were dilated without and with an inner valve in the ring, side by side.

use crate::recording::{Analysis, FrameResult, RunKind, RunResult};
use crate::report::show;
use crate::report::table::{Cell, Table, numbers, words};
use crate::uncertain::Quantity;

/// A row a run of every frame that was dilated both ways, those without the inner valve first; `None` where there is no such frame.
pub fn pairs(analysis: &Analysis) -> Option<Table> {
    let frames: Vec<&RunResult> = analysis
        .runs
        .iter()
        .filter(|run| run.kind == RunKind::Frame && run.frame_id.is_some())
        .collect();
    let mut rows = Vec::new();
    let mut seen: Vec<&str> = Vec::new();
    for first in &frames {
        let Some(frame_id) = first.frame_id.as_deref().filter(|id| !seen.contains(id)) else {
            continue;
        };
        seen.push(frame_id);
        let (without, with): (Vec<&RunResult>, Vec<&RunResult>) = frames
            .iter()
            .filter(|run| run.frame_id.as_deref() == Some(frame_id))
            .partition(|run| run.inner_valve.is_none());
        if !without.is_empty() && !with.is_empty() {
            rows.extend(
                without
                    .into_iter()
                    .chain(with)
                    .map(|run| row(frame_id, run)),
            );
        }
    }
    if rows.is_empty() {
        return None;
    }
    let mut table = Table::new(
        "Without and with an inner valve in the ring",
        vec![
            words("Frame, run"),
            words("Inner valve"),
            words("Outcome"),
            numbers("Compliance", "mm/kPa"),
            numbers("Highest load", "kPa"),
            numbers("Diameter before", "mm"),
            numbers("Diameter loaded", "mm"),
            numbers("Diameter after", "mm"),
        ],
        rows,
    );
    "With an inner valve every figure is that of ring and valve together, and the diameter that inside the valve.".clone_into(&mut table.note);
    Some(table)
}

fn row(frame_id: &str, run: &RunResult) -> Vec<Cell> {
    let frame = |pick: fn(&FrameResult) -> &Quantity| {
        run.frame.as_ref().map_or_else(
            || Cell::number(show::MISSING),
            |f| Cell::quantity(pick(f), 1.0),
        )
    };
    let diameter = |pick: fn(&crate::recording::Diameters) -> &Quantity| {
        run.diameters.as_ref().map_or_else(
            || Cell::number(show::MISSING),
            |d| Cell::quantity(pick(d), 1.0),
        )
    };
    vec![
        Cell::text(frame_id).sub(run.run_id.clone()),
        Cell::text(run.inner_valve.as_deref().unwrap_or("none")),
        Cell::text(run.outcome.word()),
        frame(|f| &f.compliance),
        frame(|f| &f.peak_load),
        diameter(|d| &d.before),
        diameter(|d| &d.loaded),
        diameter(|d| &d.after),
    ]
}
