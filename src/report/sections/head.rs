//! Title block: what was tested, on which rig, by which definition.

use super::{ReportData, ReportError, Section};
use crate::recording::{Outcome, RunKind};
use crate::report::show;
use crate::rig::{REPORT_ITEMS, ReportItem};
use askama::Template;
use std::collections::BTreeMap;

/// The title block.
pub struct Head;

#[derive(Template)]
#[template(path = "head.html", config = "src/report/askama.toml")]
struct Block<'a> {
    title: &'a str,
    summary: String,
    facts: Vec<(&'static str, String)>,
}

impl Section for Head {
    fn id(&self) -> &'static str {
        "top"
    }

    fn title(&self) -> &'static str {
        ""
    }

    fn absent(&self) -> &'static str {
        ""
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let study = &data.analysis.study;
        let ambient = study.ambient_pressure_kpa;
        let mut facts = vec![
            ("Rig", format!("{} ({})", study.rig, study.rig_file)),
            ("Transducer side", study.transducer_side.clone()),
            (
                "Ambient pressure",
                format!("{} kPa (absolute)", show::digits(ambient, 4)),
            ),
            (
                "Fracture pressure is",
                study.fracture_pressure_definition.clone(),
            ),
            ("Runs performed", dates(data)),
            ("Files read", data.analysis.inputs.len().to_string()),
            (
                "Analysed with",
                format!("{} {}", data.analysis.tool.name, data.analysis.tool.version),
            ),
            (
                "Uncertainties",
                "± one standard uncertainty (k = 1)".to_owned(),
            ),
        ];
        facts.extend(stated(&study.report));
        let block = Block {
            title: &study.title,
            summary: summary(data),
            facts,
        };
        Ok(Some(block.render()?))
    }
}

/// What the study states of laboratory, customer, items and method, and what it does not.
fn stated(report: &BTreeMap<String, Option<String>>) -> Vec<(&'static str, String)> {
    const STANDARD: &str = "ISO/IEC 17025:2017, 7.8.2.1";
    if report.is_empty() {
        return vec![(
            "Laboratory, customer, items",
            format!("not stated: study.toml has no [report] (items of {STANDARD})"),
        )];
    }
    let given = |item: &ReportItem| report.get(item.key).and_then(Option::as_ref);
    let missing: Vec<String> = REPORT_ITEMS
        .iter()
        .filter(|item| given(item).is_none())
        .map(|item| format!("{} ({})", item.label.to_lowercase(), item.clause))
        .collect();
    let mut facts: Vec<(&'static str, String)> = REPORT_ITEMS
        .iter()
        .filter_map(|item| Some((item.label, given(item)?.clone())))
        .collect();
    if !missing.is_empty() {
        let list = missing.join(", ");
        facts.push(("Not stated", format!("{list} of {STANDARD}")));
    }
    facts
}

/// First and last day of the runs, as written in the runs table.
fn dates(data: &ReportData<'_>) -> String {
    let mut days: Vec<&str> = data
        .analysis
        .runs
        .iter()
        .filter_map(|run| run.started_at.as_deref())
        .map(|stamp| stamp.split(['T', ' ']).next().unwrap_or(stamp))
        .collect();
    days.sort_unstable();
    match (days.first(), days.last()) {
        (Some(first), Some(last)) if first == last => (*first).to_owned(),
        (Some(first), Some(last)) => format!("{first} to {last}"),
        _ => "not stated in the runs table".to_owned(),
    }
}

/// The runs in one sentence.
fn summary(data: &ReportData<'_>) -> String {
    let runs = &data.analysis.runs;
    let of = |kind| runs.iter().filter(|r| r.kind == kind).count();
    let frames = || runs.iter().filter(|r| r.kind == RunKind::Frame);
    let ended = |outcome| frames().filter(|r| r.outcome == outcome).count();
    let outcomes: Vec<String> = Outcome::ALL
        .into_iter()
        .map(|outcome| (ended(outcome), outcome.word()))
        .filter(|(n, _)| *n > 0)
        .map(|(n, word)| format!("{n} {word}"))
        .collect();
    let frames = of(RunKind::Frame);
    let runs = |n: usize, kind: &str| format!("{n} {kind} run{}", if n == 1 { "" } else { "s" });
    let sentence = format!(
        "{}, {} and {}",
        runs(frames, "frame"),
        runs(of(RunKind::Free), "free"),
        runs(of(RunKind::Blank), "blank")
    );
    if outcomes.is_empty() {
        format!("{sentence}.")
    } else {
        format!("{sentence}. Frames: {}.", outcomes.join(", "))
    }
}
