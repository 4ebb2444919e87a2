//! What else was seen of a run.

use crate::recording::{RunResult, Stage};
use crate::report::show::{self, MISSING};
use crate::report::table::{Cell, Table, words};

/// Every observation, as written and as understood; `None` where there is none.
pub fn seen(run: &RunResult) -> Option<Table> {
    if run.observations.is_empty() {
        return None;
    }
    let rows = run
        .observations
        .iter()
        .map(|o| {
            let kind = match (o.kind, &o.reason) {
                (Some(kind), _) => Cell::text(kind.word()),
                (None, reason) => Cell {
                    title: reason.clone().unwrap_or_default(),
                    ..Cell::text("not used")
                },
            };
            let understood = match &o.quantity {
                Some(quantity) => Cell::text(show::quantity(quantity, 1.0).phrase(&quantity.unit)),
                None => Cell::text(MISSING),
            };
            vec![
                Cell::text(&o.what),
                Cell::text(&o.value),
                Cell::maybe(o.unit.as_deref()),
                kind,
                Cell {
                    title: o
                        .quantity
                        .as_ref()
                        .and_then(|q| q.reason.clone())
                        .unwrap_or_default(),
                    ..understood
                },
                Cell::maybe(o.stage.map(Stage::word)),
                Cell::maybe(o.observer.as_deref()),
            ]
        })
        .collect();
    Some(Table::new(
        "Observations",
        vec![
            words("What"),
            words("Value"),
            words("Unit"),
            words("Kind"),
            words("As a number"),
            words("Stage"),
            words("Observer"),
        ],
        rows,
    ))
}
