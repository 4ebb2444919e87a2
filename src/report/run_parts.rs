//! Small questions about a run that several sections ask.

use crate::recording::{
    Event, EventKind, Finding, Grade, Inspection, Outcome, RunKind, RunResult, Severity,
};
use crate::uncertain::Quantity;

/// Word of a kind of run.
pub fn kind_word(kind: RunKind) -> &'static str {
    match kind {
        RunKind::Blank => "blank",
        RunKind::Free => "free",
        RunKind::Frame => "frame",
    }
}

/// Words of a grade.
pub fn grade_word(grade: Grade) -> &'static str {
    match grade {
        Grade::Agree => "trace and inspection agree",
        Grade::TraceOnly => "trace only",
        Grade::InspectionOnly => "inspection only",
        Grade::Disagree => "disagree",
    }
}

/// Word of what the eye saw.
pub fn inspection_word(inspection: Inspection) -> &'static str {
    match inspection {
        Inspection::Fractured => "fractured",
        Inspection::Intact => "intact",
        Inspection::Burst => "burst",
        Inspection::Leak => "leak",
        Inspection::Slip => "slip",
        Inspection::Blank => "blank",
    }
}

/// Word of a severity.
pub fn severity_word(severity: Severity) -> &'static str {
    match severity {
        Severity::Note => "note",
        Severity::Doubt => "doubt",
        Severity::Error => "error",
    }
}

/// Pressure of the first fracture of a fractured run, else the highest pressure.
pub fn run_pressure(run: &RunResult) -> &Quantity {
    let fracture = main_event(run).filter(|_| run.outcome == Outcome::Fractured);
    match fracture {
        Some(event) => &event.pressure,
        None => &run.highest_pressure,
    }
}

/// Rated burst pressure of the run's balloon, kPa, where it is listed.
pub fn rated_kpa(run: &RunResult) -> Option<f64> {
    run.frame
        .as_ref()?
        .balloon_rated_kpa
        .filter(|rated| rated.is_finite() && *rated > 0.0)
}

/// What the pressure of a run is, in the words that stand above it.
pub fn pressure_word(run: &RunResult) -> &'static str {
    if run_pressure(run).value.is_none() {
        ""
    } else if censored(run) {
        "no fracture up to"
    } else if run.outcome == Outcome::Fractured && main_event(run).is_some() {
        "fracture at"
    } else {
        "highest"
    }
}

/// A pressure as a multiple of the rated burst pressure.
pub fn rated_ratio(run: &RunResult, pressure: &Quantity) -> Option<f64> {
    let ratio = pressure.value? / rated_kpa(run)?;
    ratio.is_finite().then_some(ratio)
}

/// True where a pressure exceeds the rated burst pressure.
pub fn over_rated(run: &RunResult, pressure: &Quantity) -> bool {
    rated_ratio(run, pressure).is_some_and(|r| r > 1.0)
}

/// How many findings of a severity: word of the severity and `2 doubts`.
pub fn counted_findings(findings: &[Finding]) -> Vec<(&'static str, String)> {
    [Severity::Error, Severity::Doubt, Severity::Note]
        .into_iter()
        .map(|severity| {
            let n = findings.iter().filter(|f| f.severity == severity).count();
            (n, severity_word(severity))
        })
        .filter(|(n, _)| *n > 0)
        .map(|(n, word)| (word, format!("{n} {word}{}", if n == 1 { "" } else { "s" })))
        .collect()
}

/// `file:line:column` of a finding, as far as known.
pub fn place(finding: &Finding) -> String {
    let line = finding.line.map(|line| match finding.file {
        Some(_) => line.to_string(),
        None => format!("line {line}"),
    });
    [finding.file.clone(), line, finding.column.clone()]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(":")
}

/// The event a run is known by: the first fracture of a fractured run, else the first that is more than a yield.
pub fn main_event(run: &RunResult) -> Option<&Event> {
    let fracture = run
        .first_fracture()
        .filter(|_| run.outcome == Outcome::Fractured);
    fracture.or_else(|| run.events.iter().find(|e| e.kind != EventKind::Yield))
}

/// True for a frame run that ended without fracture: right-censored at its highest pressure.
pub fn censored(run: &RunResult) -> bool {
    run.kind == RunKind::Frame && !matches!(run.outcome, Outcome::Fractured | Outcome::Invalid)
}
