//! Further recordings of a run.

use crate::recording::{ClockResult, RunResult};
use crate::report::show::MISSING;
use crate::report::table::{Cell, Table, numbers, words};
use crate::uncertain::Quantity;

/// Further recordings and where their clocks lie; the reason stands where that could not be told.
pub(super) fn further(run: &RunResult) -> Table {
    let rows = run
        .recording
        .further
        .iter()
        .map(|recording| {
            let clock = recording.clock.as_ref();
            let place = |pick: fn(&ClockResult) -> &Quantity| {
                clock.map_or(Cell::number(MISSING), |clock| {
                    Cell::quantity(pick(clock), 1.0)
                })
            };
            let used = if recording.used.is_empty() {
                "nothing".to_owned()
            } else {
                recording.used.join(", ")
            };
            let how = match (clock, &recording.reason) {
                (Some(clock), _) => clock.offset.method.clone(),
                (None, Some(reason)) => format!("left out: {reason}"),
                (None, None) => MISSING.to_owned(),
            };
            vec![
                Cell::text(recording.name.clone()).sub(recording.file.clone()),
                place(|clock| &clock.offset),
                place(|clock| &clock.drift),
                Cell::text(used),
                Cell::text(how),
            ]
        })
        .collect();
    Table::new(
        "",
        vec![
            words("Recording"),
            numbers("Main clock less its clock", "s"),
            numbers("Drift", "ppm"),
            words("Used of it"),
            words("Clock placed by"),
        ],
        rows,
    )
}
