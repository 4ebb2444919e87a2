//! How the pressure fell in the longest holds: the best model of each with its time constants, and the others with how far behind they are.

use super::events::time_of;
use crate::recording::{RelaxationResult, RunResult, TimeConstant};
use crate::report::show::{self, MISSING};
use crate::report::table::{Cell, Table, numbers, words};

/// A row a hold.
pub fn holds(run: &RunResult) -> Table {
    let mut rows: Vec<Vec<Cell>> = run
        .relaxation
        .iter()
        .map(|hold| {
            vec![
                Cell::text(format!(
                    "{} to {}",
                    time_of(Some(hold.t_start_s)),
                    time_of(Some(hold.t_end_s))
                )),
                Cell::text(&hold.model).sub(others(hold)),
                Cell::quantity(&hold.p_start, 1.0),
                Cell::quantity(&hold.p_inf, 1.0),
                Cell::text(times(hold)),
                Cell::quantity(&hold.share_relaxed, 0.01),
            ]
        })
        .collect();
    if let Some(reason) = &run.relaxation_reason {
        let mut none = vec![Cell::text("none"), Cell::text(reason)];
        none.resize_with(6, || Cell::text(MISSING));
        rows.push(none);
    }
    let mut table = Table::new(
        "",
        vec![
            numbers("Hold", "s"),
            words("Best model, and how far the others are behind"),
            numbers("Pressure at the start", "kPa"),
            numbers("In the end", "kPa"),
            words("Time constants"),
            numbers("Relaxed", "%"),
        ],
        rows,
    );
    "Models are ranked by the corrected Akaike criterion on the same points; correlation of neighbouring residuals widens the uncertainties."
        .clone_into(&mut table.note);
    table
}

fn times(hold: &RelaxationResult) -> String {
    let said = hold.time_constants.iter();
    let said: Vec<String> = said
        .map(|t| {
            let time = show::quantity(&t.time, 1.0).sentence("s");
            format!("{time} ({})", interval(t))
        })
        .collect();
    if said.is_empty() {
        MISSING.to_owned()
    } else {
        said.join(", ")
    }
}

fn interval(time: &TimeConstant) -> String {
    let end = |end: Option<f64>| end.map(|s| show::digits(s, 3));
    let interval = match (end(time.low_s), end(time.high_s)) {
        (Some(low), Some(high)) => format!("{low} to {high} s"),
        (Some(low), None) => format!("{low} s and longer"),
        (None, Some(high)) => format!("up to {high} s"),
        (None, None) => "open on both sides".to_owned(),
    };
    format!("{}: {interval}", show::percent(TimeConstant::CONFIDENCE))
}

fn others(hold: &RelaxationResult) -> String {
    let said = hold
        .models
        .iter()
        .skip(1)
        .map(|m| match (m.delta_aicc, &m.reason) {
            (Some(delta), _) => format!("{} ΔAICc {}", m.model, show::fixed(delta, 1)),
            (None, Some(reason)) => format!("{}: {reason}", m.model),
            (None, None) => m.model.clone(),
        });
    said.collect::<Vec<_>>().join("; ")
}
