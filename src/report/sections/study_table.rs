//! The tables of the study: every frame run in a row with what matters most, then what else each run gave, then the runs that measured
//! the line and the balloons.

use super::{ReportData, ReportError, Section};
use crate::recording::{Diameters, RunKind, RunResult};
use crate::report::run_anchor;
use crate::report::run_parts::{
    censored, counted_findings, grade_word, kind_word, main_event, over_rated, pressure_word,
    rated_kpa, rated_ratio, run_pressure,
};
use crate::report::show;
use crate::report::table::{Cell, Span, Table, numbers, words};
use crate::uncertain::Quantity;
use askama::Template;
use std::collections::BTreeMap;

/// The tables.
pub struct StudyTable;

#[derive(Template)]
#[template(path = "study_table.html", config = "src/report/askama.toml")]
struct Block {
    frames: String,
    more: String,
    references: String,
}

/// A run and its place in the results.
type Placed<'a> = (usize, &'a RunResult);

impl Section for StudyTable {
    fn id(&self) -> &'static str {
        "table"
    }

    fn title(&self) -> &'static str {
        "Runs at a glance"
    }

    fn absent(&self) -> &'static str {
        "The runs table has no rows."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let runs = &data.analysis.runs;
        if runs.is_empty() {
            return Ok(None);
        }
        let (frames, references): (Vec<Placed<'_>>, Vec<Placed<'_>>) = runs
            .iter()
            .enumerate()
            .partition(|(_, run)| run.kind == RunKind::Frame);
        let block = Block {
            frames: frame_table(&frames).html_if_any()?,
            more: further_table(&frames).html_if_any()?,
            references: reference_table(&references, &ratings(runs)).html_if_any()?,
        };
        Ok(Some(block.render()?))
    }
}

fn name(i: usize, run: &RunResult) -> Cell {
    Cell::text(&run.run_id).link(format!("#{}", run_anchor(i)))
}

fn span(name: &str, columns: usize) -> Span {
    Span {
        name: name.to_owned(),
        columns,
    }
}

fn frame_table(runs: &[Placed<'_>]) -> Table {
    Table {
        class: "runs",
        cards: true,
        spans: vec![
            span("", 4),
            span("Fracture or highest pressure", 2),
            span("Diameter", 3),
            span("", 4),
        ],
        columns: vec![
            words("Run"),
            words("Frame"),
            words("Arm, balloon"),
            words("Outcome"),
            numbers("Pressure", "atm, kPa"),
            numbers("Of rated", "×"),
            numbers("Before", "mm"),
            numbers("Loaded", "mm"),
            numbers("After", "mm"),
            numbers("Set", "mm"),
            numbers("Recoil", "%"),
            numbers("Area gain", "%"),
            words("Findings"),
        ],
        rows: runs.iter().map(|(i, run)| frame_row(*i, run)).collect(),
        ..Table::default()
    }
}

fn frame_row(i: usize, run: &RunResult) -> Vec<Cell> {
    let pressure = run_pressure(run);
    let over = over_rated(run, pressure);
    let d = run.diameters.as_ref();
    let diameter = |pick: fn(&Diameters) -> &Quantity, unit| {
        Cell::maybe_quantity(d.map(pick), unit, "no diameter of this run was measured")
    };
    let or_nothing = |text: Option<&str>| text.unwrap_or_default().to_owned();
    let ratio = rated_ratio(run, pressure).map_or_else(
        || Cell {
            title: "needs the pressure and the rated burst pressure of the balloon".to_owned(),
            ..Cell::number(show::MISSING)
        },
        |r| {
            let mark = if over { "▲ " } else { "" };
            Cell::number(format!("{mark}{}", show::fixed(r, 2)))
        },
    );
    vec![
        name(i, run),
        Cell::maybe(run.frame_id.as_deref()).sub(or_nothing(
            run.frame.as_ref().and_then(|f| f.construction.as_deref()),
        )),
        Cell::maybe(run.arm.as_deref()).sub(or_nothing(run.balloon_id.as_deref())),
        Cell::text(run.outcome.word())
            .badge(run.outcome.word())
            .sub(outcome_note(run)),
        Cell {
            over,
            ..Cell::pressure(pressure).label(pressure_word(run))
        },
        Cell { over, ..ratio },
        diameter(|d| &d.before, 1.0),
        diameter(|d| &d.loaded, 1.0),
        diameter(|d| &d.after, 1.0),
        diameter(|d| &d.set, 1.0),
        diameter(|d| &d.recoil, 0.01),
        Cell::maybe_quantity(
            run.areas.as_ref().map(|a| &a.gain),
            0.01,
            "no diameter of this run was measured",
        ),
        Cell {
            tags: counted_findings(&run.findings),
            ..Cell::default()
        },
    ]
}

/// How well the event the run is known by is witnessed; for a frame that did not break, that the run counts as censored.
fn outcome_note(run: &RunResult) -> String {
    match (main_event(run), censored(run)) {
        (_, true) => "right-censored".to_owned(),
        (Some(event), false) => grade_word(event.grade).to_owned(),
        (None, false) => String::new(),
    }
}

fn further_table(runs: &[Placed<'_>]) -> Table {
    let rows = runs
        .iter()
        .filter(|(_, run)| run.frame.is_some() || !run.flow.is_empty())
        .map(|(i, run)| further_row(*i, run))
        .collect();
    Table {
        class: "runs",
        cards: true,
        spans: vec![
            span("", 1),
            span("Event", 2),
            span("Frame at the rest of its highest load", 3),
            span("Just before the fracture", 2),
            span("Effective orifice area", 2),
            span("Mean gradient", 2),
        ],
        columns: vec![
            words("Run"),
            numbers("Onset", "s"),
            numbers("Drop", "kPa"),
            numbers("Load", "kPa"),
            numbers("Tension", "N/mm"),
            numbers("Ring force", "N"),
            numbers("Diameter", "mm"),
            numbers("Tension", "N/mm"),
            numbers("Before", "cm²"),
            numbers("After", "cm²"),
            numbers("Before", "mmHg"),
            numbers("After", "mmHg"),
        ],
        rows,
        ..Table::default()
    }
}

fn further_row(i: usize, run: &RunResult) -> Vec<Cell> {
    let event = main_event(run);
    let no_event = "no event in this run";
    let frame = run.frame.as_ref();
    let no_load = "the recording of this run cannot be used";
    let flow = |stage: &str| run.flow.get(stage);
    let no_flow = "no flow recording at this stage";
    let onset = event.and_then(|e| e.t_s).map_or_else(
        || Cell {
            title: "no event with a time in this run".to_owned(),
            ..Cell::number(show::MISSING)
        },
        |t| Cell::number(show::fixed(t, 2)),
    );
    vec![
        name(i, run),
        onset,
        Cell::maybe_quantity(event.map(|e| &e.drop), 1.0, no_event),
        Cell::maybe_quantity(frame.map(|f| &f.peak_load), 1.0, no_load),
        Cell::maybe_quantity(frame.map(|f| &f.peak_tension), 1.0, no_load),
        Cell::maybe_quantity(frame.map(|f| &f.peak_force), 1.0, no_load),
        Cell::maybe_quantity(
            run.diameters.as_ref().map(|d| &d.at_event),
            1.0,
            "no diameter of this run was measured",
        ),
        Cell::maybe_quantity(frame.map(|f| &f.fracture_tension), 1.0, no_load),
        Cell::maybe_quantity(
            flow("before").map(|f| &f.effective_orifice_area),
            1.0,
            no_flow,
        ),
        Cell::maybe_quantity(
            flow("after").map(|f| &f.effective_orifice_area),
            1.0,
            no_flow,
        ),
        Cell::maybe_quantity(flow("before").map(|f| &f.mean_gradient), 1.0, no_flow),
        Cell::maybe_quantity(flow("after").map(|f| &f.mean_gradient), 1.0, no_flow),
    ]
}

/// Rated burst pressure of each balloon, kPa, as far as the frame runs tell it.
fn ratings(runs: &[RunResult]) -> BTreeMap<&str, f64> {
    runs.iter()
        .filter_map(|run| Some((run.balloon_id.as_deref()?, rated_kpa(run)?)))
        .collect()
}

fn reference_table(runs: &[Placed<'_>], ratings: &BTreeMap<&str, f64>) -> Table {
    let rows = runs
        .iter()
        .map(|(i, run)| {
            let rated = run.balloon_id.as_deref().and_then(|id| ratings.get(id));
            let over = rated
                .zip(run.highest_pressure.value)
                .is_some_and(|(rated, p)| p > *rated);
            let mut pressure = Cell::pressure(&run.highest_pressure);
            if over {
                pressure.main = format!("▲ {}", pressure.main);
                pressure.over = true;
            }
            let line = run.line.as_ref();
            let no_line = "measured by blank runs only";
            let balloon = run.balloon.as_ref();
            let no_balloon = "measured by free runs only";
            vec![
                name(*i, run),
                Cell::text(kind_word(run.kind)).sub(run.balloon_id.clone().unwrap_or_default()),
                pressure,
                // A thousandth of the unit: compliances of lines are some 1e-4 mL/kPa.
                Cell::maybe_quantity(line.map(|l| &l.compliance), 1e-3, no_line),
                Cell::maybe_quantity(line.map(|l| &l.trapped_air), 1.0, no_line),
                Cell::maybe_quantity(balloon.map(|b| &b.unfolded_diameter), 1.0, no_balloon),
                Cell::maybe_quantity(balloon.map(|b| &b.diameter_at_nominal), 1.0, no_balloon),
                Cell::maybe_quantity(balloon.map(|b| &b.diameter_at_rated), 1.0, no_balloon),
                Cell {
                    tags: counted_findings(&run.findings),
                    ..Cell::default()
                },
            ]
        })
        .collect();
    Table {
        class: "runs",
        cards: true,
        spans: vec![
            span("", 3),
            span("Line", 2),
            span("Free balloon, diameter", 3),
            span("", 1),
        ],
        columns: vec![
            words("Run"),
            words("Kind, balloon"),
            numbers("Highest pressure", "atm, kPa"),
            numbers("Compliance", "µL/kPa"),
            numbers("Trapped air", "mL"),
            numbers("Unfolded", "mm"),
            numbers("At nominal", "mm"),
            numbers("At rated", "mm"),
            words("Findings"),
        ],
        rows,
        ..Table::default()
    }
}
