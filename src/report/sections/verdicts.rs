//! Verdicts on the criteria of the protocol.

use super::{ReportData, ReportError, Section};
use crate::recording::{Interval, Verdict};
use crate::report::show::{self, MISSING};
use crate::report::table::{Cell, Table, numbers, words};

const NOTE: &str = "pass: the criterion holds, with the limit below the estimate on the good side; fail: the estimate is on the wrong side, and so is its limit on the other side with the same confidence (the numbers behind it name that limit), or more runs failed than were allowed; undecided: too few runs, too much scatter or too large an uncertainty to tell, also where only the estimate is on the wrong side. The limit below an estimate is one-sided.";

/// Verdicts.
pub struct Verdicts;

/// Class of the badge of a verdict.
fn badge(verdict: &str) -> &'static str {
    match verdict {
        "pass" => "pass",
        "fail" => "fail",
        _ => "undecided",
    }
}

impl Section for Verdicts {
    fn id(&self) -> &'static str {
        "verdicts"
    }

    fn title(&self) -> &'static str {
        "Verdicts"
    }

    fn absent(&self) -> &'static str {
        "The study names no protocol with criteria, so nothing was judged."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let verdicts = &data.analysis.verdicts;
        if verdicts.is_empty() {
            return Ok(None);
        }
        let columns = vec![
            words("Criterion"),
            words("Group"),
            words("Verdict"),
            numbers("Estimate and limit", ""),
            numbers("More runs", "to decide"),
            words("Runs against it"),
            words("The numbers behind it"),
        ];
        let mut table = Table::new("", columns, verdicts.iter().map(row).collect());
        NOTE.clone_into(&mut table.note);
        table.class = "runs";
        table.cards = true;
        table.html().map(Some)
    }
}

fn row(v: &Verdict) -> Vec<Cell> {
    let against = match v.failing_runs.len() {
        0 => MISSING.to_owned(),
        _ => v.failing_runs.join(", "),
    };
    vec![
        Cell::text(show::capital(&v.rule.replace('_', " "))).sub(&v.asks),
        Cell::text(&v.group),
        Cell::text(&v.verdict).badge(badge(&v.verdict)),
        v.estimate.as_ref().map_or_else(
            || Cell {
                title: "there are too few data for an estimate".to_owned(),
                ..Cell::number(MISSING)
            },
            estimate,
        ),
        Cell {
            title: v.more_runs_reason.clone().unwrap_or_default(),
            ..Cell::number(v.more_runs.map_or(MISSING.to_owned(), |n| n.to_string()))
        },
        Cell::text(against),
        Cell::text(&v.reason).sub(&v.decision_rule),
    ]
}

/// An estimate with its one-sided limit below it, as many digits as tell them apart.
fn estimate(interval: &Interval) -> Cell {
    let unit = match interval.unit.as_str() {
        "1" => String::new(),
        unit => format!(" {unit}"),
    };
    let write = |v: f64| format!("{}{unit}", show::digits(v, 4));
    let limit = match (interval.lower, interval.upper) {
        (Some(lower), _) => format!("lower limit {}", write(lower)),
        (None, Some(upper)) => format!("upper limit {}", write(upper)),
        (None, None) => String::new(),
    };
    Cell {
        title: format!(
            "{} % limit, {}",
            show::percent(interval.confidence),
            interval.method
        ),
        whole: true,
        ..Cell::number(interval.value.map_or(MISSING.to_owned(), write)).sub(limit)
    }
}
