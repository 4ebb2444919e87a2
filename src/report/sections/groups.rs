//! Statistics of each arm.

use super::{ReportData, ReportError, Section};
use crate::recording::{Group, Interval};
use crate::report::show::{self, KPA_PER_ATM, MISSING};
use crate::report::table::{Cell, Table, numbers, words};
use askama::Template;

/// Statistics.
pub struct Groups;

#[derive(Template)]
#[template(path = "groups.html", config = "src/report/askama.toml")]
struct Block {
    tables: Vec<String>,
    remarks: Vec<(String, String)>,
}

impl Section for Groups {
    fn id(&self) -> &'static str {
        "groups"
    }

    fn title(&self) -> &'static str {
        "Statistics by arm"
    }

    fn absent(&self) -> &'static str {
        "No frame run names an arm, or none could be used, so there are no statistics."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let groups = &data.analysis.groups;
        if groups.is_empty() {
            return Ok(None);
        }
        let mut tables = vec![outcome_table(groups).aligned().html()?];
        for table in [weibull_table(groups), tolerance_table(groups)]
            .into_iter()
            .filter(|t| !t.rows.is_empty())
        {
            tables.push(table.aligned().html()?);
        }
        let remarks = groups
            .iter()
            .flat_map(|g| g.remarks.iter().map(|r| (g.name.clone(), r.clone())))
            .collect();
        Ok(Some(Block { tables, remarks }.render()?))
    }
}

/// An estimate with its limits below it, in a unit so many times smaller. All three are rounded at the second digit of a quarter of
/// the interval, which is about a standard uncertainty.
fn interval(interval: &Interval, unit: f64) -> Cell {
    let limits = interval.lower.zip(interval.upper);
    let u = limits.map(|(low, high)| (high - low) / 4.0 / unit);
    let write = |v: Option<f64>| {
        v.filter(|v| v.is_finite())
            .map_or(MISSING.to_owned(), |v| show::pair(v / unit, u).0)
    };
    Cell {
        sub: if interval.lower.is_some() || interval.upper.is_some() {
            format!("{} to {}", write(interval.lower), write(interval.upper))
        } else {
            String::new()
        },
        title: format!(
            "{} % limits, {}",
            percent(interval.confidence),
            interval.method
        ),
        ..Cell::number(write(interval.value))
    }
}

/// A share as a percentage without needless digits.
fn percent(share: f64) -> String {
    let text = show::fixed(share * 100.0, 1);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

fn outcome_table(groups: &[Group]) -> Table {
    let absent = "not estimated for this arm";
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
                    |i| interval(i, unit),
                )
            };
            vec![
                Cell::text(&g.name).sub(if g.by == "arm" {
                    String::new()
                } else {
                    format!("by {}", g.by)
                }),
                Cell::number(g.n.to_string()),
                Cell::number(g.fractured.to_string()),
                Cell::number(g.censored.to_string()),
                interval(&g.proportion, 0.01),
                Cell::quantity(&pressures.mean, KPA_PER_ATM),
                Cell::quantity(&pressures.mean, 1.0),
                Cell::quantity(&pressures.sd, 1.0),
                interval(&g.kaplan_meier.median, 1.0),
                optional(&g.area_gain, 0.01),
                optional(&g.diameter_after, 1.0),
            ]
        })
        .collect();
    let mut table = Table::new(
        "Outcomes and fracture pressures",
        vec![
            words("Arm"),
            numbers("Runs", "n"),
            numbers("Fractured", "n"),
            numbers("Censored", "n"),
            numbers("Share fractured", "%"),
            numbers("Mean", "atm"),
            numbers("Mean", "kPa"),
            numbers("Standard deviation", "kPa"),
            numbers("Median, product limit", "kPa"),
            numbers("Area gain", "%"),
            numbers("Diameter after", "mm"),
        ],
        rows,
    );
    table.class = "wide";
    table
}

fn weibull_table(groups: &[Group]) -> Table {
    let rows = groups
        .iter()
        .filter_map(|g| {
            let w = g.weibull.as_ref()?;
            Some(vec![
                Cell::text(&g.name),
                Cell::number(w.failures.to_string()),
                interval(&w.shape, 1.0),
                interval(&w.scale, 1.0),
                interval(&w.scale, KPA_PER_ATM),
                interval(&w.b10, 1.0),
                interval(&w.b10, KPA_PER_ATM),
                Cell::number(show::fixed(w.log_likelihood, 2)),
            ])
        })
        .collect();
    Table::new(
        "Weibull distribution of fracture pressures, right-censored runs included",
        vec![
            words("Arm"),
            numbers("Fractured", "n"),
            numbers("Shape", "1"),
            numbers("Scale", "kPa"),
            numbers("Scale", "atm"),
            numbers("A tenth fractured at", "kPa"),
            numbers("A tenth fractured at", "atm"),
            numbers("Log-likelihood", "1"),
        ],
        rows,
    )
}

fn tolerance_table(groups: &[Group]) -> Table {
    let rows = groups
        .iter()
        .flat_map(|g| {
            g.tolerance.iter().map(|t| {
                let limit = |v: Option<f64>| {
                    Cell::number(
                        v.filter(|v| v.is_finite())
                            .map_or_else(|| MISSING.to_owned(), |v| show::digits(v, 4)),
                    )
                };
                vec![
                    Cell::text(&g.name),
                    Cell::number(percent(t.confidence)),
                    Cell::number(percent(t.coverage)),
                    Cell::number(t.sides.to_string()),
                    Cell::number(show::fixed(t.k, 4)),
                    limit(t.lower),
                    limit(t.upper),
                ]
            })
        })
        .collect();
    Table::new(
        "Normal tolerance limits of fracture pressure (arms without censoring)",
        vec![
            words("Arm"),
            numbers("Confidence", "%"),
            numbers("Coverage", "%"),
            numbers("Sides", "n"),
            numbers("Factor k", "1"),
            numbers("Lower limit", "kPa"),
            numbers("Upper limit", "kPa"),
        ],
        rows,
    )
}
