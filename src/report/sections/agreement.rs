//! How methods of measuring diameters agree, and what operators add to their scatter.

use super::figures::grid;
use super::{ReportData, ReportError, Section};
use crate::plot;
use crate::recording::{GaugeModelResult, GaugeStudy, Interval, MethodAgreement};
use crate::report::show::{self, MISSING};
use crate::report::table::{Cell, Span, Table, numbers, words};
use askama::Template;

/// Agreement and gauge studies.
pub struct Agreement;

#[derive(Template)]
#[template(path = "agreement.html", config = "src/report/askama.toml")]
struct Block {
    table: String,
    grid: String,
    line: String,
    gauge: String,
    parts: Vec<(String, String)>,
    remarks: Vec<(String, String)>,
}

impl Section for Agreement {
    fn id(&self) -> &'static str {
        "agreement"
    }

    fn title(&self) -> &'static str {
        "Agreement of methods, and what operators add"
    }

    fn absent(&self) -> &'static str {
        "No run and stage was measured by two methods, and no reading names an operator."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let (pairs, gauges) = (&data.analysis.agreement, &data.analysis.gauge_rr);
        if pairs.is_empty() && gauges.is_empty() {
            return Ok(None);
        }
        let figures = plot::agreement_figures(data.analysis);
        let grid = grid(&figures)?;
        let mut parts = Vec::new();
        for study in gauges {
            if let Some(model) = study.models.iter().find(|model| model.used) {
                let table = anova_table(model).aligned().html()?;
                parts.push((format!("Analysis of variance, {}", study.method), table));
            }
        }
        let block = Block {
            table: agreement_table(pairs).html_if_any()?,
            grid,
            line: line_table(pairs).html_if_any()?,
            gauge: gauge_table(gauges).html_if_any()?,
            parts,
            remarks: remarks(pairs, gauges),
        };
        Ok(Some(block.render()?))
    }
}

fn names(of: &MethodAgreement) -> String {
    format!("{} − {}", of.second, of.first).replace('_', " ")
}

fn maybe(interval: Option<&Interval>) -> Cell {
    interval.map_or_else(
        || Cell {
            title: "see what to keep in mind below".to_owned(),
            ..Cell::number(MISSING)
        },
        |interval| Cell::interval(interval, 1.0),
    )
}

fn agreement_table(pairs: &[MethodAgreement]) -> Table {
    let rows = pairs
        .iter()
        .map(|of| {
            let (p, f) = (of.pairs.as_ref(), of.by_frame.as_ref());
            vec![
                Cell {
                    title: of.measurands.clone(),
                    ..Cell::text(names(of))
                },
                Cell::number(of.n.to_string()),
                Cell::number(of.frames.to_string()),
                maybe(p.map(|p| &p.bias)),
                maybe(p.map(|p| &p.sd)),
                maybe(p.map(|p| &p.lower)),
                maybe(p.map(|p| &p.upper)),
                maybe(p.and_then(|p| p.slope.as_ref())),
                maybe(f.map(|f| &f.bias)),
                maybe(f.map(|f| &f.lower)),
                maybe(f.map(|f| &f.upper)),
            ]
        })
        .collect();
    let mut table = Table::new(
        "Differences between methods, mm",
        vec![
            words("Difference"),
            numbers("Pairs", "n"),
            numbers("Frames", "n"),
            numbers("Bias", "mm"),
            numbers("Standard deviation", "mm"),
            numbers("Lower limit", "mm"),
            numbers("Upper limit", "mm"),
            numbers("Slope on the mean", "1"),
            numbers("Bias", "mm"),
            numbers("Lower limit", "mm"),
            numbers("Upper limit", "mm"),
        ],
        rows,
    );
    table.class = "runs";
    table.cards = true;
    table.spans = [("", 3), ("Every pair by itself", 5), ("By frame", 3)]
        .map(|(name, columns)| Span {
            name: name.to_owned(),
            columns,
        })
        .to_vec();
    table
}

fn line_table(pairs: &[MethodAgreement]) -> Table {
    let rows = pairs
        .iter()
        .flat_map(|of| {
            let name = format!("{} on {}", of.second, of.first).replace('_', " ");
            let row = |slope, intercept, by: String| {
                let line = Cell::text(name.as_str());
                let (slope, intercept) = (Cell::interval(slope, 1.0), Cell::interval(intercept, 1.0));
                vec![line, slope, intercept, Cell::text(by)]
            };
            let ratio = of.deming.as_ref().map(|line| {
                let ratio = show::digits(line.error_variance_ratio, 3);
                let by = format!("one ratio of error variances for all pairs, {ratio} (Deming)");
                row(&line.slope, &line.intercept, by)
            });
            let stated = of.stated_line.as_ref().map(|line| {
                let chi = show::digits(line.chi_squared, 3);
                let p = show::probability(line.p);
                let by = format!("the uncertainty each diameter states; χ² {chi} for {} degrees of freedom, p {p}", line.dof);
                row(&line.slope, &line.intercept, by)
            });
            [ratio, stated]
        })
        .flatten()
        .collect();
    Table::new(
        "Lines between methods that both err",
        vec![
            words("Line"),
            numbers("Slope", "1"),
            numbers("Intercept", "mm"),
            words("By"),
        ],
        rows,
    )
}

fn gauge_table(gauges: &[GaugeStudy]) -> Table {
    let percent = |value: Option<f64>| {
        Cell::number(value.map_or_else(|| MISSING.to_owned(), |v| show::fixed(v, 1)))
    };
    let mut rows = Vec::new();
    for study in gauges {
        let Some(model) = study.models.iter().find(|model| model.used) else {
            continue;
        };
        for component in &model.components {
            rows.push(vec![
                Cell::text(format!("{}: {}", study.method, component.name)),
                standard_deviation(&component.variance),
                percent(component.contribution_percent),
                percent(component.study_variation_percent),
                percent(component.tolerance_percent),
            ]);
        }
    }
    Table::new(
        "Gauge study: what the scatter of diameters is made of",
        vec![
            words("Component"),
            numbers("Standard deviation", "mm"),
            numbers("Share of the variance", "%"),
            numbers("Share of the study variation", "%"),
            numbers("Share of the tolerance", "%"),
        ],
        rows,
    )
}

/// The root of a variance with its limits.
fn standard_deviation(variance: &Interval) -> Cell {
    let root = |value: Option<f64>| value.map(f64::sqrt);
    let interval = Interval {
        value: root(variance.value),
        lower: root(variance.lower),
        upper: root(variance.upper),
        ..variance.clone()
    };
    Cell::interval(&interval, 1.0)
}

fn anova_table(model: &GaugeModelResult) -> Table {
    let optional =
        |value: Option<f64>| value.map_or_else(|| MISSING.to_owned(), |v| show::digits(v, 4));
    let rows = model
        .anova
        .iter()
        .map(|row| {
            vec![
                Cell::text(&row.source),
                Cell::number(row.df.to_string()),
                Cell::number(show::digits(row.ss_mm2, 5)),
                Cell::number(show::digits(row.ms_mm2, 5)),
                Cell::number(optional(row.f)),
                Cell::number(row.p.map_or_else(|| MISSING.to_owned(), show::probability)),
            ]
        })
        .collect();
    Table::new(
        "",
        vec![
            words("Source"),
            numbers("Degrees of freedom", ""),
            numbers("Sum of squares", "mm²"),
            numbers("Mean square", "mm²"),
            numbers("F", ""),
            numbers("p", ""),
        ],
        rows,
    )
}

/// What to keep in mind, each once with what it is about.
fn remarks(pairs: &[MethodAgreement], gauges: &[GaugeStudy]) -> Vec<(String, String)> {
    let mut said: Vec<(Vec<String>, String)> = Vec::new();
    let mut say =
        |about: String, remark: String| match said.iter_mut().find(|(_, text)| *text == remark) {
            Some((names, _)) => names.push(about),
            None => said.push((vec![about], remark)),
        };
    for of in pairs {
        say(names(of), format!("{}.", show::capital(&of.measurands)));
        for remark in &of.remarks {
            say(names(of), remark.clone());
        }
    }
    for study in gauges {
        let about = || format!("gauge study, {}", study.method);
        if let Some(reason) = &study.reason {
            say(about(), format!("{}.", show::capital(reason)));
        }
        if let Some(model) = study.models.iter().find(|model| model.used) {
            let categories = model
                .categories
                .map_or_else(|| "not known".to_owned(), |n| n.to_string());
            say(
                about(),
                format!(
                    "{} parts, {} operators ({}), {} repeats, {} orientations averaged in each; distinct categories: {categories}.",
                    study.parts.len(),
                    study.operators.len(),
                    study.operators.join(", "),
                    study.repeats,
                    study.orientations
                ),
            );
        }
        for remark in &study.remarks {
            say(about(), remark.clone());
        }
    }
    said.into_iter()
        .map(|(names, text)| {
            // What is said of every pair need not name them all.
            let all = names.len() > 1 && names.len() == pairs.len();
            let about = if all {
                "every pair of methods".to_owned()
            } else {
                names.join("; ")
            };
            (about, text)
        })
        .collect()
}
