//! The cautions nobody should miss, in short, above the results.

use super::{ReportData, ReportError, Section};
use crate::report::{CAUTIONS, Caution};
use askama::Template;

/// The box.
pub struct CautionBox;

#[derive(Template)]
#[template(path = "caution_box.html", config = "src/report/askama.toml")]
struct Block {
    cautions: Vec<&'static Caution>,
}

impl Section for CautionBox {
    fn id(&self) -> &'static str {
        "read-first"
    }

    fn title(&self) -> &'static str {
        ""
    }

    fn absent(&self) -> &'static str {
        ""
    }

    fn render(&self, _: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let cautions = CAUTIONS.iter().filter(|c| !c.short.is_empty()).collect();
        Ok(Some(Block { cautions }.render()?))
    }
}
