//! Formulas and where they come from.

use super::{ReportData, ReportError, Section};
use crate::report::SOURCES;
use crate::report::table::{Cell, Table, words};

/// Sources.
pub struct Sources;

impl Section for Sources {
    fn id(&self) -> &'static str {
        "sources"
    }

    fn title(&self) -> &'static str {
        "Formulas and sources"
    }

    fn absent(&self) -> &'static str {
        ""
    }

    fn render(&self, _: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let rows = SOURCES
            .iter()
            .map(|s| {
                vec![
                    Cell::text(s.what),
                    Cell::text(s.formula),
                    Cell::text(s.source),
                ]
            })
            .collect();
        let columns = vec![words("Quantity"), words("Formula"), words("Source")];
        Table::new("", columns, rows).html().map(Some)
    }
}
