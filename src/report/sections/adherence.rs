//! How the runs kept the steps of the protocol: a matrix of runs and steps.

use super::{ReportData, ReportError, Section};
use crate::recording::{RunResult, StepResult, StepVerdict};
use crate::report::show::{self, MISSING};
use crate::report::table::{Cell, Table, numbers, words};
use crate::uncertain::Quantity;
use askama::Template;
use std::collections::BTreeMap;

const NOTE: &str = "A run is set against every step that holds for its arm. The deviation is what was found less the nearer limit; the pointer shows what was asked, where it was looked for and when. Not known: the results of the run do not tell.";

/// Adherence.
pub struct Adherence;

#[derive(Template)]
#[template(path = "adherence.html", config = "src/report/askama.toml")]
struct Page {
    groups: String,
    matrix: String,
    steps: Vec<(String, String)>,
}

impl Section for Adherence {
    fn id(&self) -> &'static str {
        "adherence"
    }

    fn title(&self) -> &'static str {
        "Protocol kept"
    }

    fn absent(&self) -> &'static str {
        "The study names no protocol with steps, so no run was set against one."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let runs = data.analysis.runs.iter();
        let runs: Vec<&RunResult> = runs.filter(|run| !run.adherence.is_empty()).collect();
        if runs.is_empty() {
            return Ok(None);
        }
        let mut asked: BTreeMap<usize, &StepResult> = BTreeMap::new();
        for step in runs.iter().flat_map(|run| &run.adherence) {
            asked.entry(step.number).or_insert(step);
        }
        let heading = |step: &StepResult| format!("{} {}", step.number, show::capital(&step.step));
        let mut columns = vec![words("Run"), words("Arm")];
        columns.extend(asked.values().map(|step| words(&heading(step))));
        let rows = runs.iter().map(|run| {
            let mut row = vec![Cell::text(&run.run_id), Cell::maybe(run.arm.as_deref())];
            let of = |number: &usize| run.adherence.iter().find(|step| step.number == *number);
            row.extend(
                asked
                    .keys()
                    .map(|number| of(number).map_or_else(not_asked, cell)),
            );
            row
        });
        let mut matrix = Table::new("Runs and steps", columns, rows.collect());
        NOTE.clone_into(&mut matrix.note);
        matrix.class = "runs";
        matrix.cards = true;
        let page = Page {
            groups: groups(data).html_if_any()?,
            matrix: matrix.html()?,
            steps: asked
                .values()
                .map(|step| (heading(step), step.asked.clone()))
                .collect(),
        };
        Ok(Some(page.render()?))
    }
}

fn groups(data: &ReportData<'_>) -> Table {
    let list = |names: &[String]| match names {
        [] => MISSING.to_owned(),
        names => names.join(", "),
    };
    let rows = data.analysis.adherence.iter().map(|group| {
        vec![
            Cell::text(&group.group),
            Cell::number(group.n.to_string()),
            Cell::number(group.kept_all.to_string()),
            Cell::text(list(&group.deviated)),
            Cell::text(list(&group.not_known)),
        ]
    });
    let columns = vec![
        words("Group"),
        numbers("Runs", ""),
        numbers("Kept every step", ""),
        words("Deviated"),
        words("Not known in part"),
    ];
    Table::new("Runs that kept the protocol", columns, rows.collect())
}

fn not_asked() -> Cell {
    Cell {
        title: "the step is asked of another arm".to_owned(),
        ..Cell::text(MISSING)
    }
}

/// Symbol and word of a verdict with its deviation.
fn cell(step: &StepResult) -> Cell {
    let (symbol, class) = match step.verdict {
        StepVerdict::Kept => ("✓", "pass"),
        StepVerdict::Deviated => ("✗", "fail"),
        StepVerdict::NotKnown => ("?", "undecided"),
    };
    let when = step
        .when_s
        .map_or_else(String::new, |t| format!(" at {} s", show::fixed(t, 1)));
    let found = match step.verdict {
        StepVerdict::NotKnown => String::new(),
        _ => format!("; found {}{when}", written(&step.found)),
    };
    Cell {
        title: format!("asked: {}{found}; {}", step.asked, step.reason),
        ..Cell::text(format!("{symbol} {}", step.verdict.word()))
            .badge(class)
            .sub(
                step.deviation
                    .as_ref()
                    .map_or_else(String::new, |deviation| {
                        format!("by {}{when}", written(deviation))
                    }),
            )
    }
}

fn written(quantity: &Quantity) -> String {
    let shown = show::quantity(quantity, 1.0);
    match quantity.unit.as_str() {
        "1" => shown.phrase(""),
        unit => shown.phrase(unit),
    }
    .trim()
    .to_owned()
}
