//! Tables of a series: strengths by every family, measured values, dose, staircase.

use crate::recording::{DoseResult, Group, StrengthResult, ValueResult, ValueTolerance};
use crate::report::show::{self, KPA_PER_ATM, MISSING};
use crate::report::table::{Cell, Table, numbers, words};

/// Difference of AICc above which a family is far behind the best (Burnham & Anderson 2002, 2.6).
const FAR_BEHIND: f64 = 10.0;

fn written(value: Option<f64>, digits: i32) -> Cell {
    let value = value.filter(|v| v.is_finite());
    Cell::number(value.map_or_else(|| MISSING.to_owned(), |v| show::digits(v, digits)))
}

/// Words of a quantity of a run.
fn quantity(name: &str) -> String {
    name.replace(['_', '.'], " ")
}

/// Every family of every group.
pub(super) fn strengths(groups: &[Group]) -> Table {
    let rows = groups
        .iter()
        .flat_map(|group| group.strength.iter().map(|s| strength(&group.name, s)))
        .collect();
    let mut table = Table::new(
        "Distributions of strengths, runs without fracture right-censored",
        vec![
            words("Group"),
            words("Of"),
            words("Family"),
            numbers("Failures of runs", "n"),
            numbers("Location", ""),
            numbers("Spread", ""),
            numbers("A tenth fails at", ""),
            numbers("Half fails at", ""),
            numbers("95 % fail at", ""),
            numbers("AICc behind the best", "1"),
            numbers("p of the fit", "1"),
        ],
        rows,
    );
    "Pressures in kPa (atm in the second line of the family), tensions in N/mm. Limits are those of the likelihood ratio. The p of a fit comes from simulated benches (199 samples, seed 1), where there are 5 failures or more and fewer than 100 strengths; a small one speaks against the family, a large one proves nothing. A family ten or more behind is hardly worth a look.".clone_into(&mut table.note);
    table.class = "runs";
    table.cards = true;
    table
}

fn strength(group: &str, s: &StrengthResult) -> Vec<Cell> {
    let parameter = |at: usize| {
        s.parameters.get(at).map_or_else(
            || Cell::number(MISSING),
            |p| {
                let mut cell = Cell::interval(&p.interval, 1.0);
                cell.title = format!("{}; {}", p.name, cell.title);
                cell
            },
        )
    };
    let quantile = |part: f64| {
        let found = s.quantiles.iter().find(|q| q.p == part);
        found.map_or_else(
            || Cell::number(MISSING),
            |q| Cell::interval(&q.interval, 1.0),
        )
    };
    let median = s.quantiles.iter().find(|q| q.p == 0.5);
    let median = median.and_then(|q| q.interval.value);
    let atm = median
        .filter(|_| s.unit == "kPa")
        .map_or_else(String::new, |kpa| {
            format!("half at {} atm", show::digits(kpa / KPA_PER_ATM, 4))
        });
    let behind = s.delta_aicc.filter(|d| d.is_finite());
    vec![
        Cell::text(group),
        Cell::text(quantity(&s.quantity)),
        Cell::text(&s.model).sub(atm),
        Cell::number(format!("{} of {}", s.failures, s.n)),
        parameter(0),
        parameter(1),
        quantile(0.1),
        quantile(0.5),
        quantile(0.95),
        Cell::number(behind.map_or_else(
            || MISSING.to_owned(),
            |d| {
                let far = if d >= FAR_BEHIND { " (far)" } else { "" };
                format!("{}{far}", show::fixed(d, 2))
            },
        )),
        goodness(s),
    ]
}

fn goodness(s: &StrengthResult) -> Cell {
    let shown = s.goodness.as_ref().map(|g| show::probability(g.p));
    let mut cell = Cell::number(shown.unwrap_or_else(|| MISSING.to_owned()));
    cell.title = s.goodness_reason.clone().unwrap_or_default();
    cell
}

/// Measured values of every group, with the limits that hold 95 % at 95 % confidence.
pub(super) fn values(groups: &[Group]) -> Table {
    let rows = groups
        .iter()
        .flat_map(|group| group.values.iter().map(|v| value(&group.name, v)))
        .collect();
    let mut table = Table::new(
        "Measured values",
        vec![
            words("Group"),
            words("Of"),
            numbers("Runs", "n"),
            numbers("Mean", ""),
            numbers("Standard deviation", ""),
            numbers("Median", ""),
            numbers("p of normality", "1"),
            words("95 % lie between"),
            words("To keep in mind"),
        ],
        rows,
    );
    "Tolerance limits: two-sided, 95 % of the population at 95 % confidence; results.json holds the one-sided ones and 90 %. Limits by order statistics assume no distribution and need 93 values. Normality by Shapiro and Wilk: a large p is no proof.".clone_into(&mut table.note);
    table.class = "runs";
    table.cards = true;
    table
}

fn value(group: &str, v: &ValueResult) -> Vec<Cell> {
    let between = |t: &ValueTolerance| {
        let (low, high) = t.lower.zip(t.upper)?;
        Some(format!(
            "{}: {} to {}",
            t.scale,
            show::digits(low, 4),
            show::digits(high, 4)
        ))
    };
    let wanted = |t: &&ValueTolerance| t.sides == 2 && t.coverage == 0.95;
    let limits: Vec<String> = v
        .tolerance
        .iter()
        .filter(wanted)
        .filter_map(between)
        .collect();
    vec![
        Cell::text(group),
        Cell::text(quantity(&v.quantity)).sub(v.mean.unit.replace("m2", "m²")),
        Cell::number(v.n.to_string()),
        Cell::interval(&v.mean, 1.0),
        written(v.sd, 3),
        Cell::interval(&v.median, 1.0),
        Cell::number(
            v.normality
                .map_or_else(|| MISSING.to_owned(), |n| show::probability(n.p)),
        ),
        limits_cell(&limits),
        Cell::text(v.remarks.join(" ")),
    ]
}

/// The limits of the first scale with those of the others below it.
fn limits_cell(limits: &[String]) -> Cell {
    limits.split_first().map_or_else(
        || Cell::text(MISSING),
        |(first, rest)| Cell::text(first).sub(rest.join("; ")),
    )
}

/// Fracture against oversize.
pub(super) fn dose(groups: &[Group]) -> Table {
    let rows = groups
        .iter()
        .flat_map(|group| group.dose.iter().map(|d| curve(&group.name, d)))
        .collect();
    let mut table = Table::new(
        "Fracture against a dose: oversize over the true inner diameter (mm), the pressure of a staircase (kPa), or what was planned before each run",
        vec![
            words("Group"),
            words("Dose"),
            words("Curve"),
            words("Estimate"),
            numbers("Fractured of runs", "n"),
            numbers("Half fracture at", ""),
            numbers("90 % fracture at", ""),
            numbers("Spread", ""),
            words("To keep in mind"),
        ],
        rows,
    );
    table.class = "runs";
    table.cards = true;
    table
}

fn curve(group: &str, d: &DoseResult) -> Vec<Cell> {
    vec![
        Cell::text(group),
        Cell::text(format!("{}, {}", d.quantity.replace('_', " "), d.unit)),
        Cell::text(&d.curve),
        Cell::text(&d.estimate),
        Cell::number(format!("{} of {}", d.fractured, d.n)),
        Cell::interval(&d.ed50, 1.0),
        Cell::interval(&d.ed90, 1.0),
        written(d.spread.value, 3),
        Cell::text(d.remarks.last().map_or("", String::as_str)),
    ]
}

/// Staircases, and what ended runs.
pub(super) fn staircases(groups: &[Group]) -> Table {
    let rows = groups
        .iter()
        .filter_map(|group| {
            let s = group.up_and_down.as_ref()?;
            Some(vec![
                Cell::text(&group.name),
                Cell::number(s.n.to_string()),
                Cell::text(format!("{} {}", s.count, s.counted)),
                written(s.mean.value, 4),
                written(s.mean.value.map(|kpa| kpa / KPA_PER_ATM), 4),
                written(s.sd_kpa, 3),
                Cell::text(&s.method),
            ])
        })
        .collect();
    Table::new(
        "Staircase test",
        vec![
            words("Group"),
            numbers("Frames", "n"),
            words("Counted"),
            numbers("Mean threshold", "kPa"),
            numbers("Mean threshold", "atm"),
            numbers("Standard deviation", "kPa"),
            words("How"),
        ],
        rows,
    )
}

/// How often each cause ended runs.
pub(super) fn incidence(groups: &[Group]) -> Table {
    let rows = groups
        .iter()
        .filter_map(|group| Some((group, group.incidence.as_ref()?)))
        .flat_map(|(group, i)| {
            i.causes
                .iter()
                .zip(&i.runs)
                .zip(i.share.iter().zip(&i.u))
                .filter(|((_, runs), _)| **runs > 0)
                .map(|((cause, runs), (share, u))| {
                    let last = |list: &Vec<f64>| list.last().map(|v| 100.0 * v);
                    vec![
                        Cell::text(&group.name),
                        Cell::text(cause),
                        Cell::number(runs.to_string()),
                        written(last(share), 3),
                        written(last(u), 2),
                    ]
                })
        })
        .collect();
    let mut table = Table::new(
        "What ended runs: balloons compete with fractures",
        vec![
            words("Group"),
            words("Ended by"),
            numbers("Runs", "n"),
            numbers("Share up to the highest pressure", "%"),
            numbers("Standard uncertainty", "%"),
        ],
        rows,
    );
    "Cumulative incidence (Aalen-Johansen). A frame whose balloon burst might have fractured a little higher: its strength is censored there, which is sound only if bursts have nothing to do with the strength of frames.".clone_into(&mut table.note);
    table
}
