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
    extent: String,
    message: String,
    finding: &'a Finding,
}

#[derive(Template)]
#[template(path = "findings.html", config = "src/report/askama.toml")]
struct Block<'a> {
    lines: Vec<Line<'a>>,
}

/// A list of findings as HTML. What is said word for word of several places stands once, with all of them.
pub fn list<'a>(findings: impl IntoIterator<Item = &'a Finding>) -> Result<String, ReportError> {
    let mut lines: Vec<Line<'_>> = Vec::new();
    for finding in findings {
        let same = |line: &&mut Line<'_>| {
            let other = line.finding;
            (other.severity, &other.code, &other.message)
                == (finding.severity, &finding.code, &finding.message)
                && (&other.effect, &other.help) == (&finding.effect, &finding.help)
        };
        let place = place(finding);
        match lines.iter_mut().find(same) {
            Some(line) if !place.is_empty() => {
                if !line.place.is_empty() {
                    line.place.push_str(", ");
                }
                line.place.push_str(&place);
            }
            Some(_) => {}
            None => lines.push(Line {
                severity: severity_word(finding.severity),
                place,
                extent: finding.extent(),
                message: capital(&finding.message),
                finding,
            }),
        }
    }
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
