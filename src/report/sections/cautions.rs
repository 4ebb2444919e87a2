//! The cautions in full.

use super::{ReportData, ReportError, Section};
use crate::report::{CAUTIONS, Caution};
use askama::Template;

/// Cautions.
pub struct Cautions;

#[derive(Template)]
#[template(path = "cautions.html", config = "src/report/askama.toml")]
struct Block {
    cautions: &'static [Caution],
}

impl Section for Cautions {
    fn id(&self) -> &'static str {
        "cautions"
    }

    fn title(&self) -> &'static str {
        "Cautions"
    }

    fn absent(&self) -> &'static str {
        ""
    }

    fn render(&self, _: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        Ok(Some(Block { cautions: CAUTIONS }.render()?))
    }
}
