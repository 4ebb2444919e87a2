//! The models that were tried on the diameters of a free balloon, and how far behind the best each stands.

use crate::recording::{BalloonResult, RunResult};
use crate::report::show::{self, KPA_PER_ATM, MISSING, PERCENT};
use crate::report::table::{Cell, Table, numbers, words};

/// Every model tried, the best first.
pub fn tried(run: &RunResult) -> Table {
    let or_missing = |value: Option<f64>| value.map_or(MISSING.to_owned(), |v| show::fixed(v, 2));
    let rows = run
        .balloon
        .iter()
        .flat_map(|balloon| &balloon.models)
        .map(|m| {
            vec![
                Cell::text(&m.model).sub(m.reason.clone().unwrap_or_default()),
                Cell::number(or_missing(m.delta_aicc)),
                Cell::number(or_missing(m.weight)),
            ]
        })
        .collect();
    let mut table = Table::new(
        "",
        vec![
            words("Model, or why it was not ranked"),
            numbers("Behind the best", "ΔAICc"),
            numbers("Akaike weight", "of 1"),
        ],
        rows,
    );
    "The weight is the probability of being the best of the models ranked (corrected Akaike criterion)."
        .clone_into(&mut table.note);
    table
}

/// The compliance table of a balloon.
pub fn growth(run: &RunResult) -> Table {
    let rows = run
        .balloon
        .iter()
        .flat_map(|balloon| &balloon.table)
        .map(|row| {
            let over = if row.beyond_rated {
                "above rated burst pressure"
            } else {
                ""
            };
            vec![
                Cell {
                    over: row.beyond_rated,
                    ..Cell::number(show::fixed(row.pressure_kpa / KPA_PER_ATM, 1)).sub(over)
                },
                Cell::number(show::fixed(row.pressure_kpa, 0)),
                Cell::quantity(&row.diameter, 1.0),
                Cell::quantity(&row.growth, PERCENT),
            ]
        })
        .collect();
    Table::new(
        "",
        vec![
            numbers("Pressure", "atm"),
            numbers("Pressure", "kPa"),
            numbers("Diameter", "mm"),
            numbers("Growth since nominal", "%"),
        ],
        rows,
    )
}

/// The model next to the best, in words that follow its name; nothing where no other was ranked.
pub fn runner_up(balloon: &BalloonResult) -> String {
    match balloon.models.get(1) {
        Some(next) if next.weight.is_some() => format!(
            " (next: {}, {} behind)",
            next.model,
            next.delta_aicc.map_or_else(
                || "infinitely far".to_owned(),
                |d| format!("ΔAICc {}", show::fixed(d, 2))
            )
        ),
        _ => String::new(),
    }
}
