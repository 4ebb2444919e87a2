//! The pressure of each break by every definition with its budget, and the log-odds of each kind of event.

use super::events::time_of;
use crate::recording::{Event, PressureByDefinition, RunResult};
use crate::report::show::{self, MISSING};
use crate::report::table::{Cell, Table, numbers, words};

/// Every definition of every break, with what its uncertainty is made of.
pub fn by_definition(run: &RunResult) -> Table {
    let rows = run
        .events
        .iter()
        .flat_map(|event| event.pressures.iter().map(move |p| (event, p)))
        .map(|(event, by)| {
            vec![
                Cell::text(event.kind.word()).sub(format!("{} s", time_of(event.t_s))),
                Cell::text(by.definition.word()).sub(budget(by)),
                Cell::pressure(&by.pressure),
                by.at_most
                    .as_ref()
                    .map_or_else(|| Cell::number(MISSING), Cell::pressure),
            ]
        })
        .collect();
    Table::new(
        "",
        vec![
            words("Event"),
            words("Definition, and what its uncertainty is made of"),
            numbers("Pressure", "atm, kPa"),
            numbers("At most", "atm, kPa"),
        ],
        rows,
    )
}

/// The parts of a budget in words.
fn budget(by: &PressureByDefinition) -> String {
    let parts = by.budget.iter().map(|part| match (part.u, &part.reason) {
        (Some(u), _) => format!("{} {} {}", part.source, show::fixed(u, 2), part.unit),
        (None, reason) => format!(
            "{} not known ({})",
            part.source,
            reason.as_deref().unwrap_or("no reason given")
        ),
    });
    parts.collect::<Vec<_>>().join("; ")
}

/// The log-odds of every kind of every event.
pub fn log_odds(run: &RunResult) -> Table {
    let odds = |event: &Event| {
        let said = event.log_odds.iter();
        let said = said.map(|odds| format!("{} {:+.1}", odds.of, odds.log_odds));
        said.collect::<Vec<_>>().join(", ")
    };
    let rows = run
        .events
        .iter()
        .filter(|event| !event.log_odds.is_empty())
        .map(|event| {
            vec![
                Cell::text(event.kind.word()).sub(format!("{} s", time_of(event.t_s))),
                Cell::text(odds(event)),
            ]
        })
        .collect();
    Table::new(
        "",
        vec![
            words("Event"),
            words("Natural logarithm of the odds by the trace alone"),
        ],
        rows,
    )
}
