//! The protocol of a study: its criteria, read and judged.
//!
//! ```toml
//! title = "Ring protocol"
//!
//! [[criterion]]
//! rule = "fractured_share"        # see RULES
//! arm = "moulded"                 # left out: every arm, each by itself
//! at_least = 0.9
//! confidence = 0.95
//!
//! [[criterion]]
//! rule = "fracture_pressure_below"
//! limit_atm = 16                  # a quantity carries its unit in the key
//! coverage = 0.9
//! confidence = 0.95
//! ```

use super::key::setting;
use super::rules::{Asked, RULES, Rule};
use super::sample::{Sample, samples};
use super::words::names;
use crate::recording::{Finding, Group, Place, RunResult, Severity, Verdict, suggest};
use crate::rig::Series;
use crate::rig::document::{Document, Section, read_text};
use std::path::Path;

/// A protocol, checked.
#[derive(Debug, Clone)]
pub struct Protocol {
    /// Title; empty where none is given.
    pub title: String,
    /// File as messages name it.
    pub file: String,
    /// Criteria in the order of the file.
    pub criteria: Vec<Criterion>,
}

/// One criterion of a protocol.
#[derive(Debug, Clone)]
pub struct Criterion {
    /// The rule.
    pub rule: &'static dyn Rule,
    /// Arm to judge; `None` for every arm, each by itself.
    pub arm: Option<String>,
    /// Values of the rule's keys.
    pub asked: Asked,
}

/// Reads and checks a protocol file; `shown_as` is how messages name it.
///
/// # Errors
/// All faults found, each with line, column and advice.
pub fn load_protocol(path: &Path, shown_as: &str) -> Result<Protocol, Vec<Finding>> {
    let text = read_text(path, shown_as).map_err(|finding| vec![finding])?;
    protocol_from_text(&text, shown_as)
}

/// Reads and checks the text of a protocol file.
///
/// # Errors
/// As [`load_protocol`].
pub fn protocol_from_text(text: &str, shown_as: &str) -> Result<Protocol, Vec<Finding>> {
    let doc = Document::new(shown_as, text);
    let root = doc.parse();
    let top = Section::new(&doc, root.get_ref(), root.span(), "");
    let title = top.text("title").map(|(title, _)| title);
    let sections = top.sections("criterion");
    let none = sections.is_empty();
    let criteria = sections.into_iter().filter_map(criterion).collect();
    top.finish();
    let mut findings = doc.into_findings();
    if none && findings.is_empty() {
        findings.push(
            Finding::error("protocol-empty", "the protocol has no criterion")
                .at(Place::line(shown_as, 1))
                .help(
                    "add a [[criterion]] with rule = \"…\", or leave `protocol` out of study.toml",
                ),
        );
    }
    if findings.iter().any(|f| f.severity == Severity::Error) {
        return Err(findings);
    }
    Ok(Protocol {
        title: title.unwrap_or_default(),
        file: shown_as.to_owned(),
        criteria,
    })
}

fn criterion(section: Section<'_, '_>) -> Option<Criterion> {
    let known = || RULES.iter().map(|rule| rule.name());
    if section.get("rule").is_none() {
        section.doc.error(
            &section.span,
            "protocol-rule",
            "[[criterion]] names no rule".to_owned(),
            Some(format!("add rule = \"…\", one of {}", names(known()))),
        );
        return None;
    }
    let (name, span) = section.text("rule")?;
    let Some(rule) = RULES.iter().find(|rule| rule.name() == name.trim()) else {
        // Which keys belong to it cannot be told, so none is called unknown.
        section.doc.error(
            &span,
            "protocol-rule",
            format!(
                "[[criterion]] `rule` is \"{name}\"; expected one of {}",
                names(known())
            ),
            suggest(&name, known()).map(|near| format!("did you mean \"{near}\"?")),
        );
        return None;
    };
    let arm = section.text("arm").map(|(arm, _)| arm.trim().to_owned());
    let mut asked = Asked::default();
    let mut complete = true;
    for key in rule.keys() {
        match setting(&section, key, rule.name()) {
            Some(setting) => {
                asked.settings.insert(key.name, setting);
            }
            None => complete = false,
        }
    }
    section.finish();
    complete.then_some(Criterion {
        rule: *rule,
        arm,
        asked,
    })
}

/// Judges every criterion: one verdict for its arm, or one for each group where it names none.
pub fn verdicts(
    protocol: &Protocol,
    runs: &[RunResult],
    series: &Series,
    groups: &[Group],
) -> Vec<Verdict> {
    let mut samples = samples(runs, series);
    samples.retain(|sample| groups.iter().any(|group| group.name == sample.name));
    let judged = |criterion| judge(criterion, &samples);
    protocol.criteria.iter().flat_map(judged).collect()
}

fn judge(criterion: &Criterion, samples: &[Sample<'_>]) -> Vec<Verdict> {
    let verdict = |group: &str, verdict: &str, reason: String| Verdict {
        rule: criterion.rule.name().to_owned(),
        group: group.to_owned(),
        verdict: verdict.to_owned(),
        reason,
    };
    let wanted = |sample: &&Sample<'_>| criterion.arm.as_ref().is_none_or(|a| *a == sample.name);
    let judged: Vec<Verdict> = samples
        .iter()
        .filter(wanted)
        .map(|sample| {
            let judgement = criterion.rule.judge(&criterion.asked, sample);
            verdict(&sample.name, judgement.verdict, judgement.reason)
        })
        .collect();
    if !judged.is_empty() {
        return judged;
    }
    let known = || samples.iter().map(|sample| sample.name.as_str());
    let reason = match &criterion.arm {
        _ if samples.is_empty() => "no frame run counts".to_owned(),
        Some(arm) => match suggest(arm, known()) {
            Some(near) => format!("no frame run of arm \"{arm}\" counts; did you mean \"{near}\"?"),
            None => format!(
                "no frame run of arm \"{arm}\" counts; arms here: {}",
                names(known())
            ),
        },
        None => "no frame run counts".to_owned(),
    };
    let group = criterion.arm.as_deref().unwrap_or("all");
    vec![verdict(group, "undecided", reason)]
}
