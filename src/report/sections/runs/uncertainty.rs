//! What the uncertainties of a run are made of, and what trials say of them.

use crate::recording::{DIFFER_SHARE, RunResult};
use crate::report::show;
use crate::report::table::{Cell, Table, numbers, words};
use crate::uncertain::{COVERAGE, StatedBudget};

/// Every budget: what contributes how much.
pub fn budgets(run: &RunResult) -> Table {
    let mut rows = Vec::new();
    for (quantity, stated) in &run.budgets {
        let budget = &stated.budget;
        for (component, share) in budget.components.iter().zip(budget.shares()) {
            rows.push(vec![
                Cell::text(quantity).sub(&stated.unit),
                Cell::text(&component.name).sub(component.distribution.word()),
                Cell::number(show::digits(component.contribution(), SIGNIFICANT)),
                Cell::number(show::fixed(100.0 * share, 1)),
                Cell::number(degrees(component.degrees_of_freedom)),
            ]);
        }
        rows.push(together(quantity, stated));
    }
    Table::new(
        "",
        vec![
            words("Quantity"),
            words("Component"),
            numbers("Contribution", "unit of the quantity"),
            numbers("Share of the variance", "%"),
            numbers("Degrees of freedom", ""),
        ],
        rows,
    )
}

/// What the components of a budget make together.
fn together(quantity: &str, stated: &StatedBudget) -> Vec<Cell> {
    let expanded = match (stated.expanded, stated.coverage_factor) {
        (Some(expanded), Some(k)) => format!(
            "expanded (k = {}): ± {} holds {:.0} %",
            show::fixed(k, 2),
            show::digits(expanded, SIGNIFICANT),
            100.0 * COVERAGE
        ),
        _ => "fewer than one effective degree of freedom: no expanded uncertainty".to_owned(),
    };
    vec![
        Cell::text(quantity).sub(&stated.unit),
        Cell::text("combined").sub(expanded),
        Cell::number(show::digits(stated.combined, SIGNIFICANT)),
        Cell::number(show::fixed(100.0, 1)),
        Cell::number(degrees(stated.effective_degrees_of_freedom)),
    ]
}

/// Degrees of freedom.
fn degrees(dof: Option<f64>) -> String {
    dof.map_or_else(|| "∞".to_owned(), |dof| show::fixed(dof, 0))
}

/// Digits of a contribution.
const SIGNIFICANT: i32 = 3;

/// Every quantity by trials beside its propagated uncertainty.
pub fn by_trials(run: &RunResult) -> Table {
    let ends = |u: f64, (low, high): (f64, f64)| {
        format!(
            "{} to {}",
            show::pair(low, Some(u)).0,
            show::pair(high, Some(u)).0
        )
    };
    let rows = run
        .monte_carlo
        .iter()
        .map(|by| {
            let trials = &by.trials;
            let (mean, sd) = show::pair(trials.mean, Some(trials.sd));
            let told = match (by.differs, trials.settled) {
                (true, _) => format!("differs by more than {:.0} %", 100.0 * DIFFER_SHARE),
                (false, false) => "not settled".to_owned(),
                (false, true) => String::new(),
            };
            vec![
                Cell::text(&by.quantity).sub(format!("{}, {} trials", by.unit, trials.trials)),
                Cell::number(mean),
                Cell::number(sd),
                Cell::number(by.u.map_or_else(String::new, |u| show::pair(u, Some(u)).1)).sub(told),
                Cell::number(ends(trials.sd, trials.symmetric)),
                Cell::number(ends(trials.sd, trials.shortest)),
            ]
        })
        .collect();
    Table::new(
        "",
        vec![
            words("Quantity"),
            numbers("Mean", ""),
            numbers("u by trials", ""),
            numbers("u by propagation", ""),
            numbers("95 %, symmetric", ""),
            numbers("95 %, shortest", ""),
        ],
        rows,
    )
}
