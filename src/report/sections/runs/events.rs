//! The events of a run.

use crate::recording::RunResult;
use crate::report::run_parts::{grade_word, over_rated, rated_ratio};
use crate::report::show::{self, MISSING};
use crate::report::table::{Cell, Table, numbers, words};

/// A time of the trace, s.
pub fn time_of(t_s: Option<f64>) -> String {
    t_s.map_or(MISSING.to_owned(), |t| show::fixed(t, 3))
}

/// The events of a run; `None` where there were none.
pub fn table(run: &RunResult) -> Option<Table> {
    if run.events.is_empty() {
        return None;
    }
    let time = time_of;
    let rows = run
        .events
        .iter()
        .map(|e| {
            let over = over_rated(run, &e.pressure);
            let ratio = rated_ratio(run, &e.pressure).map_or(MISSING.to_owned(), |r| {
                format!("{}{}", if over { "▲ " } else { "" }, show::fixed(r, 2))
            });
            vec![
                Cell::text(e.kind.word()),
                Cell {
                    whole: true,
                    ..Cell::number(time(e.t_s)).sub(if e.t_lo_s.is_some() || e.t_hi_s.is_some() {
                        format!("{} to {}", time(e.t_lo_s), time(e.t_hi_s))
                    } else {
                        String::new()
                    })
                },
                Cell {
                    over,
                    ..Cell::pressure(&e.pressure)
                },
                Cell {
                    over,
                    ..Cell::number(ratio)
                },
                Cell::quantity(&e.drop, 1.0),
                Cell::quantity(&e.volume, 1.0),
                Cell::text(grade_word(e.grade))
                    .sub(format!("confidence {} of 1", show::fixed(e.confidence, 2))),
                Cell::number(e.sample.map_or(MISSING.to_owned(), |s| s.to_string())),
            ]
        })
        .collect();
    let mut table = Table::new(
        "Events",
        vec![
            words("Event"),
            numbers("Onset, interval", "s"),
            numbers("Pressure just before", "atm, kPa"),
            numbers("Of rated", "×"),
            numbers("Drop", "kPa"),
            numbers("Injected volume", "mL"),
            words("Witnesses"),
            numbers("Data row", "from 0"),
        ],
        rows,
    );
    table.class = "runs";
    table.cards = true;
    Some(table)
}
