//! The frame of the page: style, navigation, and the sections in order.

use super::sections::SECTIONS;
use super::{ReportData, ReportError, run_anchor};
use askama::Template;

/// A link of the navigation.
struct Link {
    href: String,
    text: String,
    note: &'static str,
}

/// A section as written.
struct Part {
    id: &'static str,
    title: &'static str,
    body: String,
    absent: &'static str,
}

#[derive(Template)]
#[template(path = "page.html", config = "src/report/askama.toml")]
struct Page<'a> {
    title: &'a str,
    style: &'static str,
    parts: Vec<Part>,
    runs: Vec<Link>,
    tool: String,
}

/// The whole page.
pub fn render(data: &ReportData<'_>) -> Result<String, ReportError> {
    let mut parts = Vec::with_capacity(SECTIONS.len());
    for section in SECTIONS {
        parts.push(Part {
            id: section.id(),
            title: section.title(),
            body: section.render(data)?.unwrap_or_default(),
            absent: section.absent(),
        });
    }
    let runs = data
        .analysis
        .runs
        .iter()
        .enumerate()
        .map(|(i, run)| Link {
            href: format!("#{}", run_anchor(i)),
            text: run.run_id.clone(),
            note: run.outcome.word(),
        })
        .collect();
    let page = Page {
        title: &data.analysis.study.title,
        style: include_str!("templates/style.css"),
        parts,
        runs,
        tool: format!("{} {}", data.analysis.tool.name, data.analysis.tool.version),
    };
    Ok(page.render()?)
}
