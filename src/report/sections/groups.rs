//! Statistics of each group.

use super::figures::grid;
use super::{ReportData, ReportError, Section};
use super::{observations, series};
use crate::plot;
use crate::recording::{Group, Interval, PressureStatistics, ToleranceResult};
use crate::report::show::{self, KPA_PER_ATM, MISSING};
use crate::report::table::{Cell, Span, Table, numbers, words};
use askama::Template;

/// Statistics.
pub struct Groups;

#[derive(Template)]
#[template(path = "groups.html", config = "src/report/askama.toml")]
struct Block {
    outcomes: String,
    weibull: String,
    strengths: String,
    incidence: String,
    values: String,
    normal: String,
    normals: usize,
    dose: String,
    staircases: String,
    tolerance: String,
    observations: String,
    remarks: Vec<(String, String)>,
}

impl Section for Groups {
    fn id(&self) -> &'static str {
        "groups"
    }

    fn title(&self) -> &'static str {
        "Statistics by group"
    }

    fn absent(&self) -> &'static str {
        "No frame run could be used, so there are no statistics."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let groups = &data.analysis.groups;
        if groups.is_empty() {
            return Ok(None);
        }
        let normal = plot::normal_figures(data.analysis);
        let block = Block {
            outcomes: outcome_table(groups).html_if_any()?,
            weibull: weibull_table(groups).html_if_any()?,
            strengths: series::strengths(groups).html_if_any()?,
            incidence: series::incidence(groups).html_if_any()?,
            values: series::values(groups).html_if_any()?,
            normals: normal.len(),
            normal: grid(&normal)?,
            dose: series::dose(groups).html_if_any()?,
            staircases: series::staircases(groups).html_if_any()?,
            tolerance: tolerance_table(groups).html_if_any()?,
            observations: observations::table(groups).html_if_any()?,
            remarks: remarks(groups),
        };
        Ok(Some(block.render()?))
    }
}

/// The remarks, each once with the groups it is about: those about every group first.
fn remarks(groups: &[Group]) -> Vec<(String, String)> {
    let mut said: Vec<(&str, Vec<&str>)> = Vec::new();
    for group in groups {
        for remark in &group.remarks {
            match said.iter_mut().find(|(text, _)| *text == remark) {
                Some((_, names)) => names.push(&group.name),
                None => said.push((remark, vec![&group.name])),
            }
        }
    }
    said.sort_by_key(|(_, names)| names.len() != groups.len());
    said.into_iter()
        .map(|(text, names)| {
            let all = names.len() == groups.len() && groups.len() > 1;
            let names = if all {
                "every group".to_owned()
            } else {
                names.join(", ")
            };
            (names, text.to_owned())
        })
        .collect()
}

fn outcome_table(groups: &[Group]) -> Table {
    let absent = "not estimated for this group";
    let rows = groups
        .iter()
        .map(|g| {
            let pressures = &g.fracture_pressure;
            let optional = |i: &Option<Interval>, unit| {
                i.as_ref().map_or_else(
                    || Cell {
                        title: absent.to_owned(),
                        ..Cell::number(MISSING)
                    },
                    |i| Cell::interval(i, unit),
                )
            };
            vec![
                Cell::text(&g.name),
                Cell::number(g.n.to_string()),
                Cell::number(g.fractured.to_string()),
                Cell::number(g.censored.to_string()),
                Cell::interval(&g.proportion, 0.01),
                Cell::pressure(&pressures.mean),
                Cell::quantity(&pressures.sd, 1.0),
                Cell::number(extremes(pressures)),
                Cell::interval(&g.kaplan_meier.median, 1.0),
                optional(&g.area_gain, 0.01),
                optional(&g.diameter_after, 1.0),
            ]
        })
        .collect();
    let mut table = Table::new(
        "Outcomes, and pressures of the fractured",
        vec![
            words("Group"),
            numbers("Runs", "n"),
            numbers("Fractured", "n"),
            numbers("Censored", "n"),
            numbers("Share fractured", "%"),
            numbers("Mean", "atm, kPa"),
            numbers("Standard deviation", "kPa"),
            numbers("Range", "kPa"),
            numbers("Median, product limit", "kPa"),
            numbers("Area gain", "%"),
            numbers("Diameter after", "mm"),
        ],
        rows,
    );
    table.class = "runs";
    table.cards = true;
    table.spans = vec![
        span("", 5),
        span("Fracture pressure of the fractured", 3),
        span("All frames", 3),
    ];
    table
}

fn span(name: &str, columns: usize) -> Span {
    Span {
        name: name.to_owned(),
        columns,
    }
}

/// Smallest and largest fracture pressure, kPa.
fn extremes(pressures: &PressureStatistics) -> String {
    match (pressures.min_kpa, pressures.max_kpa) {
        (Some(min), Some(max)) => format!("{} to {}", show::fixed(min, 0), show::fixed(max, 0)),
        _ => MISSING.to_owned(),
    }
}

fn weibull_table(groups: &[Group]) -> Table {
    let rows = groups
        .iter()
        .filter_map(|g| {
            let w = g.weibull.as_ref()?;
            Some(vec![
                Cell::text(&g.name),
                Cell::number(w.failures.to_string()),
                Cell::interval(&w.shape, 1.0),
                Cell::interval(&w.scale, 1.0),
                Cell::interval(&w.scale, KPA_PER_ATM),
                Cell::interval(&w.b10, 1.0),
                Cell::interval(&w.b10, KPA_PER_ATM),
                Cell::number(show::fixed(w.log_likelihood, 2)),
            ])
        })
        .collect();
    let mut table = Table::new(
        "Weibull distribution of fracture pressures, right-censored runs included",
        vec![
            words("Group"),
            numbers("Fractured", "n"),
            numbers("Shape", "1"),
            numbers("Scale", "kPa"),
            numbers("Scale", "atm"),
            numbers("A tenth fractured at", "kPa"),
            numbers("A tenth fractured at", "atm"),
            numbers("Log-likelihood", "1"),
        ],
        rows,
    );
    table.class = "runs";
    table.cards = true;
    table
}

/// One row for each confidence and coverage: the one-sided limits and the two-sided pair.
fn tolerance_table(groups: &[Group]) -> Table {
    let mut rows = Vec::new();
    for group in groups {
        let mut asked: Vec<(f64, f64)> = Vec::new();
        for t in &group.tolerance {
            if !asked.contains(&(t.confidence, t.coverage)) {
                asked.push((t.confidence, t.coverage));
            }
        }
        for (confidence, coverage) in asked {
            let of: Vec<&ToleranceResult> = group
                .tolerance
                .iter()
                .filter(|t| t.confidence == confidence && t.coverage == coverage)
                .collect();
            rows.push(tolerance_row(&group.name, confidence, coverage, &of));
        }
    }
    Table::new(
        "",
        vec![
            words("Group"),
            numbers("Confidence", "%"),
            numbers("Coverage", "%"),
            numbers("k, one-sided", "1"),
            numbers("So many lie above", "kPa"),
            numbers("So many lie below", "kPa"),
            numbers("k, two-sided", "1"),
            numbers("So many lie between", "kPa"),
        ],
        rows,
    )
}

fn tolerance_row(
    name: &str,
    confidence: f64,
    coverage: f64,
    limits: &[&ToleranceResult],
) -> Vec<Cell> {
    let written = |v: Option<f64>| {
        v.filter(|v| v.is_finite())
            .map_or_else(|| MISSING.to_owned(), |v| show::digits(v, 4))
    };
    let one = |pick: fn(&ToleranceResult) -> Option<f64>| {
        let mut of_this = limits.iter().filter(|t| t.sides == 1);
        written(of_this.find_map(|t| pick(t)))
    };
    let k = |sides| {
        limits
            .iter()
            .find(|t| t.sides == sides)
            .map_or_else(|| MISSING.to_owned(), |t| show::fixed(t.k, 4))
    };
    let between = limits.iter().find(|t| t.sides == 2).map_or_else(
        || MISSING.to_owned(),
        |t| format!("{} to {}", written(t.lower), written(t.upper)),
    );
    vec![
        Cell::text(name),
        Cell::number(show::percent(confidence)),
        Cell::number(show::percent(coverage)),
        Cell::number(k(1)),
        Cell::number(one(|t| t.lower)),
        Cell::number(one(|t| t.upper)),
        Cell::number(k(2)),
        Cell::number(between),
    ]
}
