//! The page of an analysis: one HTML file with everything inside, that needs no network and no script.

mod cautions;
mod page;
mod run_parts;
mod sections;
mod show;
mod sources;
mod table;

pub use cautions::{CAUTIONS, Caution};
pub use sections::{SECTIONS, Section};
pub use show::{Shown, pair, quantity};
pub use sources::{SOURCES, Source};

use crate::plot::{RunFigures, StudyFigure};
use crate::recording::Analysis;
use std::collections::BTreeMap;

/// What every section is written from.
#[derive(Debug, Clone, Copy)]
pub struct ReportData<'a> {
    /// The results.
    pub analysis: &'a Analysis,
    /// Figures of each run, by run name.
    pub figures: &'a BTreeMap<String, RunFigures>,
    /// Figures over all runs.
    pub study_figures: &'a [StudyFigure],
}

/// The page could not be written.
#[derive(Debug)]
pub struct ReportError {
    message: String,
}

impl From<askama::Error> for ReportError {
    fn from(error: askama::Error) -> Self {
        Self {
            message: error.to_string(),
        }
    }
}

impl std::fmt::Display for ReportError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the report could not be written: {}", self.message)
    }
}

impl std::error::Error for ReportError {}

/// The whole page: every section of [`SECTIONS`] in order, with style and navigation. The same data give the same bytes.
///
/// # Errors
/// Where a template cannot be written.
pub fn render(
    analysis: &Analysis,
    figures: &BTreeMap<String, RunFigures>,
    study_figures: &[StudyFigure],
) -> Result<String, ReportError> {
    page::render(&ReportData {
        analysis,
        figures,
        study_figures,
    })
}

/// The place of a run on the page, by its position in the results: names may repeat or hold anything.
pub(crate) fn run_anchor(position: usize) -> String {
    format!("run-{}", position + 1)
}
