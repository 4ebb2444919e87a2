//! Every file read, with its checksum.

use super::{ReportData, ReportError, Section};
use crate::report::table::{Cell, Table, numbers, words};

/// Inputs.
pub struct Inputs;

impl Section for Inputs {
    fn id(&self) -> &'static str {
        "inputs"
    }

    fn title(&self) -> &'static str {
        "Files read"
    }

    fn absent(&self) -> &'static str {
        "No file was read."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let inputs = &data.analysis.inputs;
        if inputs.is_empty() {
            return Ok(None);
        }
        let rows = inputs
            .iter()
            .map(|input| {
                vec![
                    Cell::text(&input.path),
                    Cell::text(&input.sha256),
                    Cell::number(input.bytes.to_string()),
                ]
            })
            .collect();
        let mut table = Table::new(
            "",
            vec![words("File"), words("SHA-256"), numbers("Size", "bytes")],
            rows,
        );
        table.class = "mono";
        table.html().map(Some)
    }
}
