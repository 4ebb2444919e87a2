//! Comparisons between groups, and between states of the same frames.

use super::{ReportData, ReportError, Section};
use crate::recording::Comparison;
use crate::report::show;
use crate::report::table::{Cell, Table, numbers, words};

/// Comparisons.
pub struct Comparisons;

/// What is compared of strengths; everything else stands in a table that is folded away.
const STRENGTHS: &[&str] = &["fracture_pressure", "fractured"];

impl Section for Comparisons {
    fn id(&self) -> &'static str {
        "comparisons"
    }

    fn title(&self) -> &'static str {
        "Comparisons"
    }

    fn absent(&self) -> &'static str {
        "There are fewer than two groups to compare, and no frame was measured before and after."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let comparisons = &data.analysis.comparisons;
        let pairs = super::inner_valve::pairs(data.analysis);
        let pairs: Vec<String> = pairs
            .into_iter()
            .map(|table| table.aligned().html())
            .collect::<Result<_, _>>()?;
        let pairs = (!pairs.is_empty()).then(|| pairs.concat());
        if comparisons.is_empty() {
            return Ok(pairs);
        }
        let (strengths, others): (Vec<&Comparison>, Vec<&Comparison>) = comparisons
            .iter()
            .partition(|c| STRENGTHS.contains(&c.quantity.as_str()));
        let mut body = table("", &strengths).html_if_any()?;
        if !others.is_empty() {
            let tests = table("", &others).html_if_any()?;
            body.push_str("<details>\n<summary>Diameters, areas, flow and what else was seen: ");
            body.push_str(&others.len().to_string());
            body.push_str(" comparisons</summary>\n");
            body.push_str(&tests);
            body.push_str("\n</details>\n");
        }
        body.push_str("<p class=\"quiet note\">Differences are the second group less the first. Every p stands by itself: of twenty comparisons of groups that are alike, one comes out below 0.05. Where strengths of more than two groups are compared two by two, the p below it is adjusted for the number of pairs (Holm): with that one, all pairs together are wrong as seldom as one test.</p>\n");
        Ok(Some(body + pairs.as_deref().unwrap_or_default()))
    }
}

/// The p of a test, with the adjusted one below where it is one of several pairs.
fn probability(c: &Comparison) -> Cell {
    let Some(p) = c.p else {
        return Cell::number(show::MISSING);
    };
    let cell = Cell::number(show::probability(p));
    match c.p_adjusted {
        Some(p) => cell.sub(format!("Holm {}", show::probability(p))),
        None => cell,
    }
}

fn table(caption: &str, comparisons: &[&Comparison]) -> Table {
    let optional = |value: Option<f64>| {
        Cell::number(value.map_or_else(|| show::MISSING.to_owned(), |v| show::digits(v, 4)))
    };
    let rows = comparisons
        .iter()
        .map(|c| {
            vec![
                Cell::text(&c.name),
                Cell::text(&c.quantity),
                Cell::text(c.groups.join(", ")),
                optional(c.chi2.or(c.statistic)),
                optional(c.df),
                c.estimate.as_ref().map_or_else(
                    || Cell::number(show::MISSING),
                    |estimate| {
                        let mut cell = Cell::interval(estimate, 1.0);
                        cell.label = match estimate.unit.as_str() {
                            "mm" => "mm",
                            "cm2" => "cm²",
                            _ => "",
                        };
                        cell
                    },
                ),
                probability(c),
                Cell::text(&c.method),
            ]
        })
        .collect();
    Table::new(
        caption,
        vec![
            words("Test"),
            words("Of"),
            words("Groups"),
            numbers("Statistic", ""),
            numbers("Degrees of freedom", ""),
            numbers("Difference", ""),
            numbers("p", ""),
            words("What is compared"),
        ],
        rows,
    )
}
