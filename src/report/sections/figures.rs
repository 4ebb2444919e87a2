//! Figures over all runs.

use super::{ReportData, ReportError, Section};
use crate::plot::StudyFigure;
use askama::Template;

/// The figures.
pub struct Figures;

/// A figure with what stands below it.
#[derive(Debug, Default)]
pub struct Shown<'a> {
    /// The figure.
    pub svg: &'a str,
    /// How to read it.
    pub caption: String,
    /// Reasons for what it shows, each checkable on it.
    pub evidence: Vec<&'a str>,
}

#[derive(Template)]
#[template(path = "figures.html", config = "src/report/askama.toml")]
pub struct Grid<'a> {
    /// The figures.
    pub figures: Vec<Shown<'a>>,
}

impl Section for Figures {
    fn id(&self) -> &'static str {
        "figures"
    }

    fn title(&self) -> &'static str {
        "Figures of the study"
    }

    fn absent(&self) -> &'static str {
        "No run has a fracture or a highest pressure to draw."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        if data.study_figures.is_empty() {
            return Ok(None);
        }
        grid(data.study_figures).map(Some)
    }
}

/// Figures with their captions; empty where there are none.
pub(super) fn grid(figures: &[StudyFigure]) -> Result<String, ReportError> {
    if figures.is_empty() {
        return Ok(String::new());
    }
    let shown = figures.iter().map(|figure| Shown {
        svg: &figure.svg,
        caption: figure.caption.clone(),
        evidence: Vec::new(),
    });
    let grid = Grid {
        figures: shown.collect(),
    };
    Ok(grid.render()?)
}
