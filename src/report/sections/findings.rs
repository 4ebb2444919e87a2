//! Findings that belong to no run.

use super::{ReportData, ReportError, Section};
use crate::recording::Finding;
use crate::report::run_parts::{place, severity_word};
use crate::report::show::capital;
use askama::Template;

/// Findings of the study.
pub struct Findings;

/// A finding as printed.
struct Line<'a> {
    severity: &'static str,
    place: String,
    message: String,
    finding: &'a Finding,
}

#[derive(Template)]
#[template(path = "findings.html", config = "src/report/askama.toml")]
struct Block<'a> {
    lines: Vec<Line<'a>>,
}

/// A list of findings as HTML.
pub fn list<'a>(findings: impl IntoIterator<Item = &'a Finding>) -> Result<String, ReportError> {
    let lines = findings
        .into_iter()
        .map(|finding| Line {
            severity: severity_word(finding.severity),
            place: place(finding),
            message: capital(&finding.message),
            finding,
        })
        .collect();
    Ok(Block { lines }.render()?)
}

impl Section for Findings {
    fn id(&self) -> &'static str {
        "findings"
    }

    fn title(&self) -> &'static str {
        "Findings about the study"
    }

    fn absent(&self) -> &'static str {
        "Nothing doubtful was found outside the runs."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let findings = &data.analysis.findings;
        if findings.is_empty() {
            return Ok(None);
        }
        // The worst first; within a severity in the order found.
        let mut sorted: Vec<&Finding> = findings.iter().collect();
        sorted.sort_by_key(|f| std::cmp::Reverse(f.severity));
        list(sorted).map(Some)
    }
}
