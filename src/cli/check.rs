//! `hooptrace check`: what is doubtful in a study, run by run, on the screen or as JSON.

use super::analyse::study_folder;
use super::messages::{counted, marked};
use crate::pipeline::{self, Checked};
use crate::read::SourceLines;
use crate::recording::{Finding, Severity};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

/// Status where nothing is worse than a doubt.
const SOUND: u8 = 0;
/// Status where something could not be used.
const FAULTY: u8 = 1;
/// Status where the study cannot be read at all.
const UNREADABLE: u8 = 2;
/// From so many runs on a finding that is the same in all of them is told once.
const FOLDED_FROM: usize = 3;
/// Findings of one kind told of one run; of the others only the number.
const TOLD_OF_KIND: usize = 5;
/// Names of runs listed where a finding is folded.
const NAMED: usize = 12;

/// What makes two findings say the same of different runs: severity, code, message and help. The numbers of a note count for
/// nothing, since no two runs have the same.
type Said<'f> = (Severity, &'f str, String, Option<&'f str>);

/// A finding of several runs: one of them, and their names.
type Shared<'f> = (&'f Finding, Vec<&'f str>);

/// Looks through the study; gives the report for standard output and the exit status.
///
/// # Errors
///
/// Findings where there is no study folder.
pub fn run(
    study: &Path,
    json: bool,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<(String, u8), Vec<Finding>> {
    study_folder(study)?;
    let checked = pipeline::check(study, progress);
    let status = match checked.count(Severity::Error) {
        _ if !checked.readable => UNREADABLE,
        0 => SOUND,
        _ => FAULTY,
    };
    let report = if json {
        super::to_json(&checked.findings)?
    } else {
        to_text(&checked, &mut SourceLines::of_study(study))
    };
    Ok((report, status))
}

/// The findings of the study, then of each run, then those that many runs share, and how many there are.
fn to_text(checked: &Checked, lines: &mut SourceLines) -> String {
    let mut text = String::new();
    if !checked.title.is_empty() {
        let _ = writeln!(text, "{}", checked.title);
    }
    let shared = shared(&checked.findings);
    let folded = |finding: &Finding| {
        let of = shared.get(&said(finding));
        finding.run_id.is_some() && of.is_some_and(|(_, runs)| runs.len() >= FOLDED_FROM)
    };
    let of_study = checked
        .findings
        .iter()
        .filter(|finding| finding.run_id.is_none());
    group(&mut text, "the study", of_study.collect(), lines);
    // A row that names no run of the table has its findings too.
    let mut names: Vec<&str> = checked.runs.iter().map(String::as_str).collect();
    for run in checked.findings.iter().filter_map(|f| f.run_id.as_deref()) {
        if !names.contains(&run) {
            names.push(run);
        }
    }
    let mut of_run: BTreeMap<&str, Vec<&Finding>> = BTreeMap::new();
    for finding in checked.findings.iter().filter(|finding| !folded(finding)) {
        if let Some(run) = finding.run_id.as_deref() {
            of_run.entry(run).or_default().push(finding);
        }
    }
    for name in names {
        let findings = of_run.remove(name).unwrap_or_default();
        group(&mut text, &format!("run {name}"), findings, lines);
    }
    // The gravest last, next to the count.
    let many = shared
        .values()
        .filter(|(_, runs)| runs.len() >= FOLDED_FROM);
    for (finding, runs) in many {
        in_many(&mut text, finding, runs, checked);
    }
    let gap = if text.is_empty() { "" } else { "\n" };
    let _ = writeln!(text, "{gap}{}", totals(checked));
    text
}

fn said(finding: &Finding) -> Said<'_> {
    let message = match finding.severity {
        Severity::Note => {
            let mut shape = finding.message.clone();
            shape.retain(|c| !c.is_ascii_digit() && !matches!(c, '.' | '-'));
            shape
        }
        _ => finding.message.clone(),
    };
    let help = finding.help.as_deref();
    (finding.severity, &finding.code, message, help)
}

/// Which runs each finding is said of.
fn shared(findings: &[Finding]) -> BTreeMap<Said<'_>, Shared<'_>> {
    let mut shared: BTreeMap<Said<'_>, Shared<'_>> = BTreeMap::new();
    for finding in findings {
        let Some(run) = finding.run_id.as_deref() else {
            continue;
        };
        let (_, runs) = shared.entry(said(finding)).or_insert((finding, Vec::new()));
        if runs.last() != Some(&run) {
            runs.push(run);
        }
    }
    shared
}

/// A finding of many runs in one line, as it reads for the first of them.
fn in_many(text: &mut String, finding: &Finding, runs: &[&str], checked: &Checked) {
    let named = if runs.len() == checked.runs.len() {
        "all of them".to_owned()
    } else {
        let more = if runs.len() > NAMED { ", ..." } else { "" };
        format!("{}{more}", runs[..runs.len().min(NAMED)].join(", "))
    };
    // Of a note another run may have other numbers.
    let first = match (finding.severity, runs.first()) {
        (Severity::Note, Some(run)) if finding.message.contains(|c: char| c.is_ascii_digit()) => {
            format!("of {run}: ")
        }
        _ => String::new(),
    };
    let _ = writeln!(
        text,
        "\nin {} runs: {}[{}] {first}{} ({named})",
        runs.len(),
        finding.severity.word(),
        finding.code,
        finding.message
    );
    if let Some(help) = &finding.help {
        let _ = writeln!(text, "    help: {help}");
    }
}

/// The findings under one heading, the gravest first.
fn group(text: &mut String, heading: &str, mut findings: Vec<&Finding>, lines: &mut SourceLines) {
    if findings.is_empty() {
        return;
    }
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    let _ = writeln!(text, "\n{heading}");
    let mut told: BTreeMap<&str, usize> = BTreeMap::new();
    for finding in &findings {
        let count = told.entry(&finding.code).or_default();
        *count += 1;
        if *count > TOLD_OF_KIND {
            continue;
        }
        let place = finding.place();
        let colon = if place.is_empty() { "" } else { ": " };
        let _ = writeln!(
            text,
            "  {}[{}] {place}{colon}{}",
            finding.severity.word(),
            finding.code,
            finding.message
        );
        // A note needs no line to be understood.
        let line = (finding.severity > Severity::Note).then(|| lines.find(finding));
        if let Some(line) = line.flatten() {
            for row in marked(&line).lines() {
                let _ = writeln!(text, "  {row}");
            }
        }
        if let Some(help) = &finding.help {
            let _ = writeln!(text, "      help: {help}");
        }
    }
    for (code, count) in told.iter().filter(|(_, count)| **count > TOLD_OF_KIND) {
        let _ = writeln!(
            text,
            "  [{code}] {} more of this kind",
            count - TOLD_OF_KIND
        );
    }
}

/// "3 errors, 5 doubts, 12 notes in 24 runs".
fn totals(checked: &Checked) -> String {
    let of =
        |count: usize, what: &str| counted(count, what).unwrap_or_else(|| format!("no {what}s"));
    let counts = [Severity::Error, Severity::Doubt, Severity::Note]
        .map(|severity| of(checked.count(severity), severity.word()))
        .join(", ");
    if checked.readable {
        format!("{counts} in {}", of(checked.runs.len(), "run"))
    } else {
        format!("{counts}; the study cannot be read")
    }
}
