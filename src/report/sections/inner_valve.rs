//! Frames that were dilated without and with an inner valve in the ring, side by side.

use crate::recording::{Analysis, FrameResult, RunKind, RunResult};
use crate::report::show;
use crate::report::table::{Cell, Column, Table, numbers, words};
use crate::uncertain::Quantity;

/// Tables with a row for each run of every frame that was dilated both ways, those without the inner valve first; none where there is no such
/// frame.
pub fn pairs(analysis: &Analysis) -> Vec<Table> {
    let frames: Vec<&RunResult> = analysis
        .runs
        .iter()
        .filter(|run| run.kind == RunKind::Frame && run.frame_id.is_some())
        .collect();
    let mut runs: Vec<(&str, &RunResult, Option<&str>)> = Vec::new();
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
            let both = without.into_iter().chain(with);
            let earlier = |run: &RunResult| {
                let broken = run.broken_before(frames.iter().copied());
                broken.map(|run| run.run_id.as_str())
            };
            runs.extend(both.map(|run| (frame_id, run, earlier(run))));
        }
    }
    if runs.is_empty() {
        return Vec::new();
    }
    let table = |title: &str, columns: Vec<Column>, row: fn(&RunResult) -> Vec<Cell>| {
        let first = vec![words("Frame, run"), words("Inner valve")];
        let rows = runs.iter().map(|(frame_id, run, broken)| {
            let name = Cell::text(*frame_id).sub(run.run_id.clone());
            let mut valve = Cell::text(run.inner_valve.as_deref().unwrap_or("none"));
            if let Some(earlier) = broken {
                valve = valve.sub(format!("frame broken before, in {earlier}"));
            }
            [vec![name, valve], row(run)].concat()
        });
        Table::new(title, [first, columns].concat(), rows.collect())
    };
    let mut sizes = table(
        "Without and with an inner valve in the ring",
        vec![
            words("Outcome"),
            numbers("Diameter before", "mm"),
            numbers("Diameter loaded", "mm"),
            numbers("Diameter after", "mm"),
            numbers("Compliance", "mm/kPa"),
            numbers("Yield load", "kPa"),
            numbers("Hardening", "kPa/mm"),
        ],
        sizes,
    );
    "With an inner valve every figure is that of ring and valve together, and the diameter that inside the valve.".clone_into(&mut sizes.note);
    let loads = table(
        "Loads and energies without and with an inner valve",
        vec![
            numbers("Highest load", "kPa"),
            numbers("Wall tension", "N/mm"),
            numbers("Ring force", "N"),
            numbers("Tension at fracture", "N/mm"),
            numbers("Load after it", "kPa"),
            numbers("Stored", "mJ"),
            numbers("Released", "mJ"),
            numbers("Loop", "mJ"),
        ],
        loads,
    );
    vec![sizes, loads]
}

fn frame(run: &RunResult, pick: fn(&FrameResult) -> &Quantity) -> Cell {
    run.frame.as_ref().map_or_else(
        || Cell::number(show::MISSING),
        |f| Cell::quantity(pick(f), 1.0),
    )
}

fn loads(run: &RunResult) -> Vec<Cell> {
    vec![
        frame(run, |f| &f.peak_load),
        frame(run, |f| &f.peak_tension),
        frame(run, |f| &f.peak_force),
        frame(run, |f| &f.fracture_tension),
        frame(run, |f| &f.residual_load),
        frame(run, |f| &f.energy_stored),
        frame(run, |f| &f.energy_released),
        frame(run, |f| &f.loop_work),
    ]
}

fn sizes(run: &RunResult) -> Vec<Cell> {
    let diameter = |pick: fn(&crate::recording::Diameters) -> &Quantity| {
        run.diameters.as_ref().map_or_else(
            || Cell::number(show::MISSING),
            |d| Cell::quantity(pick(d), 1.0),
        )
    };
    vec![
        Cell::text(run.outcome.word()),
        diameter(|d| &d.before),
        diameter(|d| &d.loaded),
        diameter(|d| &d.after),
        frame(run, |f| &f.compliance),
        frame(run, |f| &f.yield_load),
        frame(run, |f| &f.hardening),
    ]
}
