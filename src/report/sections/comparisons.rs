//! Comparisons between arms.

use super::{ReportData, ReportError, Section};
use crate::report::show;
use crate::report::table::{Cell, Table, numbers, words};

/// Comparisons.
pub struct Comparisons;

impl Section for Comparisons {
    fn id(&self) -> &'static str {
        "comparisons"
    }

    fn title(&self) -> &'static str {
        "Comparisons"
    }

    fn absent(&self) -> &'static str {
        "There are fewer than two arms to compare."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let comparisons = &data.analysis.comparisons;
        let pairs = super::inner_valve::pairs(data.analysis);
        let pairs = pairs.map(|table| table.aligned().html()).transpose()?;
        if comparisons.is_empty() {
            return Ok(pairs);
        }
        let rows = comparisons
            .iter()
            .map(|c| {
                vec![
                    Cell::text(&c.name),
                    Cell::text(c.groups.join(", ")),
                    Cell::number(show::digits(c.chi2, 4)),
                    Cell::number(c.df.to_string()),
                    Cell::number(show::probability(c.p)),
                    Cell::text(&c.method),
                ]
            })
            .collect();
        let table = Table::new(
            "",
            vec![
                words("Test"),
                words("Arms"),
                numbers("χ²", ""),
                numbers("Degrees of freedom", ""),
                numbers("p", ""),
                words("What is compared"),
            ],
            rows,
        );
        let tests = table.aligned().html()?;
        Ok(Some(tests + pairs.as_deref().unwrap_or_default()))
    }
}
