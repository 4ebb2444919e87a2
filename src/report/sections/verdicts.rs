//! Verdicts on the criteria of the protocol.

use super::{ReportData, ReportError, Section};
use crate::report::show;
use crate::report::table::{Cell, Table, words};

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
        let rows = verdicts
            .iter()
            .map(|v| {
                vec![
                    Cell::text(show::capital(&v.rule.replace('_', " "))),
                    Cell::text(&v.group),
                    Cell::text(&v.verdict).badge(badge(&v.verdict)),
                    Cell::text(&v.reason),
                ]
            })
            .collect();
        let columns = vec![
            words("Criterion"),
            words("Arm"),
            words("Verdict"),
            words("The numbers behind it"),
        ];
        Table::new("", columns, rows).html().map(Some)
    }
}
