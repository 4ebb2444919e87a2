//! Every run with its evidence, figures, tables and findings.

use super::figures::{Grid, Shown};
use super::findings::list;
use super::{ReportData, ReportError, Section};
use crate::plot::RunFigures;
use crate::recording::{Event, Finding, PhaseKind, RunKind, RunResult, Severity};
use crate::report::run_anchor;
use crate::report::run_parts::{grade_word, inspection_word, kind_word};
use crate::report::show;
use askama::Template;

mod breaks;
mod clocks;
mod diameters;
mod events;
mod flow;
mod models;
mod observations;
mod photographs;
mod pressures;
mod quantities;
mod reading;
mod references;
mod relaxation;
mod tables;
mod uncertainty;

/// Runs.
pub struct Runs;

#[derive(Template)]
#[template(path = "run.html", config = "src/report/askama.toml")]
struct Block<'a> {
    anchor: String,
    run: &'a RunResult,
    outcome: &'static str,
    errors: String,
    reason: String,
    doubts: String,
    facts: Vec<(&'static str, String)>,
    trace: Option<&'a str>,
    joined: bool,
    no_trace: &'static str,
    events: String,
    evidence: Vec<&'a str>,
    grid: String,
    open: Vec<String>,
    folded: Vec<(String, String)>,
    nothing: &'static str,
}

impl Section for Runs {
    fn id(&self) -> &'static str {
        "runs"
    }

    fn title(&self) -> &'static str {
        "Each run"
    }

    fn absent(&self) -> &'static str {
        "The runs table has no rows."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        if data.analysis.runs.is_empty() {
            return Ok(None);
        }
        let nothing = RunFigures::default();
        let mut page = String::new();
        for (i, run) in data.analysis.runs.iter().enumerate() {
            let figures = data.figures.get(&run.run_id).unwrap_or(&nothing);
            page.push_str(&block(i, run, figures)?.render()?);
        }
        Ok(Some(page))
    }
}

fn block<'a>(
    i: usize,
    run: &'a RunResult,
    figures: &'a RunFigures,
) -> Result<Block<'a>, ReportError> {
    let mut open = Vec::new();
    for table in tables::open(run) {
        open.push(table.html()?);
    }
    let mut folded = Vec::new();
    for (summary, table) in tables::folded(run) {
        folded.push((summary.to_owned(), table.aligned().html()?));
    }
    let notes = of_severity(run, Severity::Note);
    if !notes.is_empty() {
        let summary = match notes.len() {
            1 => "1 note on this run".to_owned(),
            n => format!("{n} notes on this run"),
        };
        folded.push((summary, list(notes)?));
    }
    let (errors, doubts) = (
        of_severity(run, Severity::Error),
        of_severity(run, Severity::Doubt),
    );
    // An invalid run's reason is its error, which stands there with its place and its help.
    let said = errors.iter().any(|f| f.message == run.outcome_reason);
    let findings = |found: Vec<&'a Finding>| {
        if found.is_empty() {
            Ok(String::new())
        } else {
            list(found)
        }
    };
    Ok(Block {
        anchor: run_anchor(i),
        run,
        outcome: run.outcome.word(),
        errors: findings(errors)?,
        reason: if said {
            String::new()
        } else {
            sentence(&run.outcome_reason)
        },
        doubts: findings(doubts)?,
        facts: facts(run),
        trace: figures.trace.as_deref(),
        joined: run.phases.iter().any(|p| p.kind == PhaseKind::Switch),
        no_trace: if run.trace.is_some() {
            "The recording could not be drawn; the findings of this run say why."
        } else {
            "This run has no recording."
        },
        events: match events::table(run) {
            Some(table) => table.aligned().html()?,
            None => String::new(),
        },
        evidence: evidence_without_figure(run, figures),
        grid: grid(run, figures)?,
        open,
        folded,
        nothing: if run.findings.is_empty() {
            "Nothing doubtful was found in this run."
        } else {
            ""
        },
    })
}

fn of_severity(run: &RunResult, severity: Severity) -> Vec<&Finding> {
    run.findings
        .iter()
        .filter(|f| f.severity == severity)
        .collect()
}

/// Words with a capital and a full stop.
fn sentence(words: &str) -> String {
    let words = show::capital(words.trim());
    if words.is_empty() || words.ends_with(['.', '!', '?']) {
        words
    } else {
        format!("{words}.")
    }
}

/// Reasons of the events that have no close-up to stand below.
fn evidence_without_figure<'a>(run: &'a RunResult, figures: &RunFigures) -> Vec<&'a str> {
    run.events
        .iter()
        .enumerate()
        .filter(|(i, _)| figures.zooms.iter().all(|zoom| zoom.event != *i))
        .flat_map(|(_, event)| event.evidence.iter().map(String::as_str))
        .collect()
}

/// The smaller figures side by side, each with how to read it.
fn grid(run: &RunResult, figures: &RunFigures) -> Result<String, ReportError> {
    let mut shown: Vec<Shown<'_>> = figures
        .zooms
        .iter()
        .map(|zoom| {
            let event = run.events.get(zoom.event);
            Shown {
                svg: &zoom.svg,
                caption: event.map_or_else(|| zoom.title.clone(), zoom_caption),
                evidence: event.map_or_else(Vec::new, |e| {
                    e.evidence.iter().map(String::as_str).collect()
                }),
            }
        })
        .collect();
    let frame = run.frame.as_ref().map_or_else(String::new, |frame| {
        format!(
            "Load is pressure less what the free balloon needs at the same diameter. Points in the order of time; diameter from: {}.",
            frame.diameter_source
        )
    });
    let loop_ = "What lies between this run and the free balloon is carried by the frame. The volume is that of the inflator, \
                 joined over the hand-over.";
    for (caption, figure) in [
        (loop_, &figures.loop_),
        (frame.as_str(), &figures.frame),
        (
            "Each method apart: on a ring out of round they need not agree.",
            &figures.diameters,
        ),
        (
            "What the balloon does without a frame; the loads of the frame runs rest on it.",
            &figures.balloon,
        ),
        (
            "What the line takes of the volume injected; it is taken out of every other run.",
            &figures.line,
        ),
    ] {
        if let Some(svg) = figure {
            shown.push(Shown {
                svg,
                caption: caption.to_owned(),
                evidence: Vec::new(),
            });
        }
    }
    shown.extend(photographs::shown(run, figures));
    if shown.is_empty() {
        return Ok(String::new());
    }
    Ok(Grid { figures: shown }.render()?)
}

/// The interval of an event, and its drop with the uncertainty.
fn zoom_caption(event: &Event) -> String {
    let at = |t: Option<f64>| {
        t.filter(|t| t.is_finite())
            .map_or_else(|| show::MISSING.to_owned(), |t| show::fixed(t, 3))
    };
    let fall = if event.drop.value.is_some() {
        let drop = show::quantity(&event.drop, 1.0).sentence("kPa");
        format!("; the pressure falls by {drop}")
    } else {
        String::new()
    };
    format!(
        "Onset between {} s and {} s{fall}. {}.{}",
        at(event.t_lo_s),
        at(event.t_hi_s),
        show::capital(grade_word(event.grade)),
        if event.evidence.is_empty() {
            ""
        } else {
            " Evidence:"
        }
    )
}

/// What was tested and recorded, as far as stated.
fn facts(run: &RunResult) -> Vec<(&'static str, String)> {
    let mut facts = vec![("Kind", format!("{} run", kind_word(run.kind)))];
    let mut stated = |name, value: Option<String>| {
        if let Some(value) = value {
            facts.push((name, value));
        }
    };
    stated("Frame", run.frame_id.clone());
    stated(
        "Construction",
        run.frame.as_ref().and_then(|f| f.construction.clone()),
    );
    stated("With an inner valve in the ring", run.inner_valve.clone());
    stated("Balloon", run.balloon_id.clone());
    stated("Arm", run.arm.clone());
    stated("Operator", run.operator.clone());
    stated("Started", run.started_at.clone());
    stated("Recording", run.trace.clone());
    if run.kind == RunKind::Frame {
        let inspection = run.inspection.map_or("not written down", inspection_word);
        stated("Inspection", Some(inspection.to_owned()));
    }
    let info = &run.recording;
    if info.samples > 0 {
        stated(
            "Samples",
            Some(format!(
                "{} over {} s at {} Hz",
                info.samples,
                show::digits(info.duration_s, 4),
                show::digits(info.rate_hz, 4)
            )),
        );
        stated(
            "Noise",
            Some(format!("{} kPa a sample", show::digits(info.noise_kpa, 2))),
        );
        let smallest = Some(info.smallest_drop_kpa).filter(|drop| drop.is_finite());
        stated(
            "Smallest drop it would show",
            smallest.map(|drop| format!("{} kPa", show::digits(drop, 2))),
        );
    }
    stated("Note", run.note.clone());
    facts
}
