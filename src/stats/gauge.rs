//! Crossed gauge study: every part measured by every operator, several times each.

use super::binomial::Limits;
use super::describe::describe;
use super::error::{StatsError, check_finite};
use super::mean_squares::{Term, limits};
use super::quantiles::f_upper_tail;

/// The interaction of part and operator is pooled with the repeats where its p lies above this (AIAG Measurement Systems Analysis, from
/// memory: common practice).
pub const POOL_ABOVE_P: f64 = 0.25;
/// Parts, operators and repeats needed at least: of one there is no scatter.
const LEAST: usize = 2;

/// A line of the analysis of variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaugeRow {
    /// Source of the scatter.
    pub source: &'static str,
    /// Sum of squares.
    pub ss: f64,
    /// Degrees of freedom.
    pub df: usize,
    /// Mean square.
    pub ms: f64,
    /// F against the mean square below it in the random model; `None` for the last one, or where that mean square is 0.
    pub f: Option<f64>,
    /// Probability of an F at least as large where the source adds nothing.
    pub p: Option<f64>,
}

/// A variance component.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VarianceComponent {
    /// What varies.
    pub name: &'static str,
    /// The estimate, 0 where the raw one is negative. Sums are of such parts.
    pub variance: f64,
    /// The estimate as it comes, which may be negative.
    pub raw: f64,
    /// Confidence limits, not below 0.
    pub limits: Limits,
}

/// Variance components with or without an interaction of part and operator.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugeModel {
    /// True where the interaction has a component of its own.
    pub interaction: bool,
    /// The analysis of variance.
    pub rows: Vec<GaugeRow>,
    /// Repeatability, interaction (where there is one), operator, reproducibility, gauge, part, total.
    pub components: Vec<VarianceComponent>,
    /// Distinct categories `sqrt(2) sd(part) / sd(gauge)`, before it is rounded down; `None` where the gauge does not scatter.
    pub categories: Option<f64>,
}

impl GaugeModel {
    /// A component by name.
    pub fn component(&self, name: &str) -> Option<&VarianceComponent> {
        self.components.iter().find(|c| c.name == name)
    }
}

/// A gauge study, both ways.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugeRr {
    /// Parts.
    pub parts: usize,
    /// Operators.
    pub operators: usize,
    /// Repeats of every operator on every part.
    pub repeats: usize,
    /// With the interaction.
    pub with_interaction: GaugeModel,
    /// With the interaction pooled into the repeats.
    pub pooled: GaugeModel,
    /// True where the pooled model is to be used: the p of the interaction lies above [`POOL_ABOVE_P`].
    pub pool: bool,
}

impl GaugeRr {
    /// The model to use.
    pub fn used(&self) -> &GaugeModel {
        if self.pool {
            &self.pooled
        } else {
            &self.with_interaction
        }
    }
}

/// Names of sources that are components, too.
const REPEAT: &str = "repeatability";
const BOTH: &str = "part by operator";

/// Sums of squares, of values about their overall mean.
struct Squares {
    part: f64,
    operator: f64,
    cell: f64,
    repeat: f64,
}

/// Analyses readings `[part][operator][repeat]`. Fails for fewer than two parts, operators or repeats, for cells of different size (an
/// unbalanced study has no such analysis), or a value that is not finite.
pub fn gauge_rr(readings: &[Vec<Vec<f64>>], confidence: f64) -> Result<GaugeRr, StatsError> {
    let operators = readings.first().map_or(0, Vec::len);
    let repeats = readings.first().and_then(|p| p.first()).map_or(0, Vec::len);
    for (what, found) in [
        ("parts", readings.len()),
        ("operators", operators),
        ("repeats", repeats),
    ] {
        if found < LEAST {
            return Err(StatsError::TooFew {
                what,
                needed: LEAST,
                found,
            });
        }
    }
    for part in readings {
        if part.len() != operators {
            return Err(unbalanced("operators", operators, part.len()));
        }
        if let Some(cell) = part.iter().find(|cell| cell.len() != repeats) {
            return Err(unbalanced("repeats", repeats, cell.len()));
        }
    }
    let squares = squares(readings)?;
    let (p, o, k) = (readings.len(), operators, repeats);
    let (part, operator) = (p - 1, o - 1);
    let (both, repeat) = (part * operator, p * o * (k - 1));
    let interaction = (squares.cell - squares.part - squares.operator).max(0.0);
    let error = row(REPEAT, squares.repeat, repeat, None);
    let crossed = row(BOTH, interaction, both, Some(&error));
    let with_interaction = model(
        true,
        vec![
            row("part", squares.part, part, Some(&crossed)),
            row("operator", squares.operator, operator, Some(&crossed)),
            crossed,
            error,
        ],
        (p, o, k),
        confidence,
    )?;
    let error = row(REPEAT, interaction + squares.repeat, both + repeat, None);
    let pooled = model(
        false,
        vec![
            row("part", squares.part, part, Some(&error)),
            row("operator", squares.operator, operator, Some(&error)),
            error,
        ],
        (p, o, k),
        confidence,
    )?;
    Ok(GaugeRr {
        parts: p,
        operators: o,
        repeats: k,
        with_interaction,
        pooled,
        // Without any scatter of repeats only an interaction that is there counts.
        pool: crossed.p.map_or(crossed.ms <= 0.0, |p| p > POOL_ABOVE_P),
    })
}

fn unbalanced(what: &'static str, needed: usize, found: usize) -> StatsError {
    StatsError::Unbalanced {
        what,
        expected: needed,
        found,
    }
}

fn squares(readings: &[Vec<Vec<f64>>]) -> Result<Squares, StatsError> {
    let all: Vec<f64> = readings.iter().flatten().flatten().copied().collect();
    check_finite(&all)?;
    let grand = describe(&all)?.mean;
    let mean = |values: &[f64]| describe(values).map(|d| d.mean - grand);
    let operators = readings.first().map_or(0, Vec::len);
    let (mut part, mut operator, mut cell, mut repeat) = (0.0, 0.0, 0.0, 0.0);
    for cells in readings {
        let values: Vec<f64> = cells.iter().flatten().copied().collect();
        part += values.len() as f64 * mean(&values)?.powi(2);
        for values in cells {
            let d = describe(values)?;
            cell += d.n as f64 * (d.mean - grand).powi(2);
            repeat += d.sd.unwrap_or(0.0).powi(2) * (d.n as f64 - 1.0);
        }
    }
    for at in 0..operators {
        let cells = readings.iter().filter_map(|cells| cells.get(at));
        let values: Vec<f64> = cells.flatten().copied().collect();
        operator += values.len() as f64 * mean(&values)?.powi(2);
    }
    Ok(Squares {
        part,
        operator,
        cell,
        repeat,
    })
}

fn row(source: &'static str, ss: f64, df: usize, against: Option<&GaugeRow>) -> GaugeRow {
    let ms = ss / df as f64;
    let f = against.map(|below| ms / below.ms).filter(|f| f.is_finite());
    let p = f
        .zip(against)
        .and_then(|(f, below)| f_upper_tail(f, df as f64, below.df as f64).ok());
    GaugeRow {
        source,
        ss,
        df,
        ms,
        f,
        p,
    }
}

/// Components from mean squares (random model): each is a weighted sum of them.
fn model(
    interaction: bool,
    rows: Vec<GaugeRow>,
    (parts, operators, repeats): (usize, usize, usize),
    confidence: f64,
) -> Result<GaugeModel, StatsError> {
    let (p, o, k) = (parts as f64, operators as f64, repeats as f64);
    let term = |source: &str, weight: f64| {
        let row = rows.iter().find(|row| row.source == source);
        row.map(|row| Term {
            weight,
            ms: row.ms,
            df: row.df as f64,
        })
    };
    let component = |name, weights: &[(&str, f64)]| {
        let terms: Vec<Term> = weights
            .iter()
            .filter(|(_, weight)| *weight != 0.0)
            .filter_map(|(source, weight)| term(source, *weight))
            .collect();
        let raw: f64 = terms.iter().map(|t| t.weight * t.ms).sum();
        let limits = limits(&terms, confidence)?;
        Ok::<_, StatsError>(VarianceComponent {
            name,
            variance: raw.max(0.0),
            raw,
            limits: Limits {
                lower: limits.lower.max(0.0),
                upper: limits.upper.max(0.0),
            },
        })
    };
    // What operator and part are judged against.
    let below = if interaction { BOTH } else { REPEAT };
    let repeatability = component(REPEAT, &[(REPEAT, 1.0)])?;
    let crossed = if interaction {
        Some(component(BOTH, &[(BOTH, 1.0 / k), (REPEAT, -1.0 / k)])?)
    } else {
        None
    };
    let operator = component(
        "operator",
        &[("operator", 1.0 / (p * k)), (below, -1.0 / (p * k))],
    )?;
    let part = component("part", &[("part", 1.0 / (o * k)), (below, -1.0 / (o * k))])?;
    let (mut reproducibility, mut gauge, mut total) = if interaction {
        (
            component(
                "reproducibility",
                &[
                    ("operator", 1.0 / (p * k)),
                    (BOTH, (p - 1.0) / (p * k)),
                    (REPEAT, -1.0 / k),
                ],
            )?,
            component(
                "gauge",
                &[
                    ("operator", 1.0 / (p * k)),
                    (BOTH, (p - 1.0) / (p * k)),
                    (REPEAT, (k - 1.0) / k),
                ],
            )?,
            component(
                "total",
                &[
                    ("part", 1.0 / (o * k)),
                    ("operator", 1.0 / (p * k)),
                    (BOTH, (p * o - p - o) / (p * o * k)),
                    (REPEAT, (k - 1.0) / k),
                ],
            )?,
        )
    } else {
        (
            VarianceComponent {
                name: "reproducibility",
                ..operator
            },
            component(
                "gauge",
                &[
                    ("operator", 1.0 / (p * k)),
                    (REPEAT, (p * k - 1.0) / (p * k)),
                ],
            )?,
            component(
                "total",
                &[
                    ("part", 1.0 / (o * k)),
                    ("operator", 1.0 / (p * k)),
                    (REPEAT, 1.0 - 1.0 / (o * k) - 1.0 / (p * k)),
                ],
            )?,
        )
    };
    // Sums of what is not below 0, so that the parts make the whole.
    reproducibility.variance = operator.variance + crossed.map_or(0.0, |c| c.variance);
    gauge.variance = repeatability.variance + reproducibility.variance;
    total.variance = gauge.variance + part.variance;
    let categories = (2.0 * part.variance / gauge.variance).sqrt();
    let mut components = vec![repeatability];
    components.extend(crossed);
    components.extend([operator, reproducibility, gauge, part, total]);
    Ok(GaugeModel {
        interaction,
        rows,
        components,
        categories: categories.is_finite().then_some(categories),
    })
}
