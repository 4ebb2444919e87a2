//! The table of the study: every run in a row.

use super::{ReportData, ReportError, Section};
use crate::recording::RunResult;
use crate::report::run_anchor;
use crate::report::run_parts::{
    censored, counted_findings, grade_word, kind_word, main_event, over_rated, rated_ratio,
    run_pressure,
};
use crate::report::show::{self, KPA_PER_ATM};
use crate::report::table::{Cell, Span, Table, numbers, words};
use askama::Template;

/// The table.
pub struct StudyTable;

#[derive(Template)]
#[template(path = "study_table.html", config = "src/report/askama.toml")]
struct Block {
    table: String,
}

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
        if data.analysis.runs.is_empty() {
            return Ok(None);
        }
        let span = |name: &str, columns| Span {
            name: name.to_owned(),
            columns,
        };
        let table = Table {
            caption: String::new(),
            note: String::new(),
            class: "runs",
            spans: vec![
                span("", 4),
                span("Fracture or highest pressure", 3),
                span("", 1),
                span("Diameter", 3),
                span("", 3),
                span("Effective orifice area", 2),
                span("", 1),
            ],
            columns: vec![
                words("Run"),
                words("Frame"),
                words("Arm, balloon"),
                words("Outcome"),
                numbers("Pressure", "atm"),
                numbers("Pressure", "kPa"),
                numbers("Of rated", "×"),
                numbers("Drop", "kPa"),
                numbers("Before", "mm"),
                numbers("Loaded", "mm"),
                numbers("After", "mm"),
                numbers("Set", "mm"),
                numbers("Recoil", "%"),
                numbers("Area gain", "%"),
                numbers("Before", "cm²"),
                numbers("After", "cm²"),
                words("Findings"),
            ],
            rows: data
                .analysis
                .runs
                .iter()
                .enumerate()
                .map(|(i, run)| row(i, run))
                .collect(),
        };
        let table = table.aligned().html()?;
        Ok(Some(Block { table }.render()?))
    }
}

fn row(i: usize, run: &RunResult) -> Vec<Cell> {
    let pressure = run_pressure(run);
    let censored = censored(run);

    let over = over_rated(run, pressure);
    let pressure_in = |unit: f64| {
        let mut cell = Cell::quantity(pressure, unit);
        if censored && pressure.value.is_some() {
            cell.main = format!("> {}", cell.main);
            "no fracture up to this pressure".clone_into(&mut cell.title);
        }
        cell.over = over;
        cell
    };
    let d = run.diameters.as_ref();
    let no_diameters = "diameters are measured for frame runs only";
    let diameter = |q: Option<&_>, unit| Cell::maybe_quantity(q, unit, no_diameters);
    let flow = |stage: &str| {
        Cell::maybe_quantity(
            run.flow.get(stage).map(|f| &f.effective_orifice_area),
            1.0,
            "no flow recording at this stage",
        )
    };
    let ratio = rated_ratio(run, pressure).map_or_else(
        || Cell {
            title: "the rated burst pressure of this balloon is not known".to_owned(),
            ..Cell::number(show::MISSING)
        },
        |r| Cell {
            over,
            ..Cell::number(format!(
                "{}{}",
                if over { "▲ " } else { "" },
                show::fixed(r, 2)
            ))
        },
    );
    let drop = main_event(run).map(|e| &e.drop);
    vec![
        Cell::text(&run.run_id)
            .link(format!("#{}", run_anchor(i)))
            .sub(kind_word(run.kind)),
        Cell::maybe(run.frame_id.as_deref()).sub(
            run.frame
                .as_ref()
                .and_then(|f| f.construction.clone())
                .unwrap_or_default(),
        ),
        Cell::maybe(run.arm.as_deref()).sub(run.balloon_id.clone().unwrap_or_default()),
        Cell::text(run.outcome.word())
            .badge(run.outcome.word())
            .sub(outcome_note(run, censored)),
        pressure_in(KPA_PER_ATM),
        pressure_in(1.0),
        ratio,
        Cell::maybe_quantity(drop, 1.0, "no event in this run"),
        diameter(d.map(|d| &d.before), 1.0),
        diameter(d.map(|d| &d.loaded), 1.0),
        diameter(d.map(|d| &d.after), 1.0),
        diameter(d.map(|d| &d.set), 1.0),
        diameter(d.map(|d| &d.recoil), 0.01),
        diameter(run.areas.as_ref().map(|a| &a.gain), 0.01),
        flow("before"),
        flow("after"),
        Cell::text(counted_findings(&run.findings)),
    ]
}

/// The grade of the event the run is known by; for a frame that did not break, that this is how far it held.
fn outcome_note(run: &RunResult, censored: bool) -> String {
    match (main_event(run), censored) {
        (_, true) => "no fracture up to".to_owned(),
        (Some(event), false) => grade_word(event.grade).to_owned(),
        (None, false) => String::new(),
    }
}
