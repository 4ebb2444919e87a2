//! Figures over all runs.

use super::{ReportData, ReportError, Section};
use askama::Template;

/// The figures.
pub struct Figures;

#[derive(Template)]
#[template(path = "figures.html", config = "src/report/askama.toml")]
pub struct Grid<'a> {
    /// Caption and SVG.
    pub figures: Vec<(&'a str, &'a str)>,
}

impl Section for Figures {
    fn id(&self) -> &'static str {
        "figures"
    }

    fn title(&self) -> &'static str {
        "Figures of the study"
    }

    fn absent(&self) -> &'static str {
        "No arm has a fracture or a highest pressure to draw."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        if data.study_figures.is_empty() {
            return Ok(None);
        }
        let figures = data
            .study_figures
            .iter()
            .map(|(title, svg)| (title.as_str(), svg.as_str()))
            .collect();
        Ok(Some(Grid { figures }.render()?))
    }
}
