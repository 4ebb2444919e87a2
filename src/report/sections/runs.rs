//! Every run with its evidence, figures, tables and findings.

use super::findings::list;
use super::{ReportData, ReportError, Section};
use crate::plot::RunFigures;
use crate::recording::{RunKind, RunResult};
use crate::report::run_anchor;
use crate::report::run_parts::{inspection_word, kind_word};
use crate::report::show;
use askama::Template;

mod tables;

/// Runs.
pub struct Runs;

#[derive(Template)]
#[template(path = "run.html", config = "src/report/askama.toml")]
struct Block<'a> {
    anchor: String,
    run: &'a RunResult,
    outcome: &'static str,
    evidence: Vec<&'a str>,
    facts: Vec<(&'static str, String)>,
    trace: Option<&'a str>,
    no_trace: &'static str,
    grid: String,
    open: Vec<String>,
    folded: Vec<(&'static str, String)>,
    findings: String,
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
        open.push(table.aligned().html()?);
    }
    let mut folded = Vec::new();
    for (summary, table) in tables::folded(run) {
        folded.push((summary, table.aligned().html()?));
    }
    Ok(Block {
        anchor: run_anchor(i),
        run,
        outcome: run.outcome.word(),
        evidence: run
            .events
            .iter()
            .flat_map(|e| e.evidence.iter().map(String::as_str))
            .collect(),
        facts: facts(run),
        trace: figures.trace.as_deref(),
        no_trace: if run.trace.is_some() {
            "The recording could not be drawn; the findings of this run say why."
        } else {
            "This run has no recording."
        },
        grid: grid(figures)?,
        open,
        folded,
        findings: if run.findings.is_empty() {
            String::new()
        } else {
            list(&run.findings)?
        },
    })
}

/// The smaller figures side by side.
fn grid(figures: &RunFigures) -> Result<String, ReportError> {
    let mut grid: Vec<(&str, &str)> = figures
        .zooms
        .iter()
        .map(|(title, svg)| (title.as_str(), svg.as_str()))
        .collect();
    for (caption, figure) in [
        ("Pressure against injected volume", &figures.loop_),
        (
            "Load on the frame (pressure less what the free balloon needs at that diameter) and ring force",
            &figures.frame,
        ),
        ("Diameters by method with ± 2u", &figures.diameters),
        ("The free balloon", &figures.balloon),
        ("The line", &figures.line),
    ] {
        if let Some(svg) = figure {
            grid.push((caption, svg));
        }
    }
    if grid.is_empty() {
        return Ok(String::new());
    }

    Ok(super::figures::Grid { figures: grid }.render()?)
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
        stated(
            "Smallest drop seen",
            Some(format!("{} kPa", show::digits(info.smallest_drop_kpa, 2))),
        );
    }
    stated("Note", run.note.clone());
    facts
}
