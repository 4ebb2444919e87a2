//! The tables of a run, in their order.

use crate::recording::RunResult;
use crate::report::table::Table;

/// Tables shown openly.
pub fn open(run: &RunResult) -> Vec<Table> {
    let mut tables = Vec::new();
    tables.extend(quantities(run));
    tables.extend(super::observations::seen(run));
    tables
        .into_iter()
        .filter(|table| !table.rows.is_empty())
        .collect()
}

/// Tables folded away, with the words on the fold.
pub fn folded(run: &RunResult) -> Vec<(&'static str, Table)> {
    [
        (
            "Pressure of a break by definition",
            super::breaks::by_definition(run),
        ),
        ("Log-odds of each kind", super::breaks::log_odds(run)),
        (
            "Models tried on the diameters of the balloon",
            super::models::tried(run),
        ),
        (
            "Diameters of the free balloon with pressure",
            super::models::growth(run),
        ),
        (
            "How the pressure fell in the longest holds",
            super::relaxation::holds(run),
        ),
        (
            "Diameters by method",
            super::diameters::by_method(run).unwrap_or_default(),
        ),
        (
            "Circles and ellipses through the outlines",
            super::diameters::outline_fits(run),
        ),
        (
            "What the uncertainties are made of",
            super::uncertainty::budgets(run),
        ),
        ("Uncertainty by trials", super::uncertainty::by_trials(run)),
        (
            "What the photographs say",
            super::photographs::measured(run),
        ),
        (
            "Where the uncertainty of a photograph comes from",
            super::photographs::budgets(run),
        ),
        (
            "Free edges of the leaflets: (length − chord) / chord",
            super::photographs::leaflets(run),
        ),
        ("Phases of the run", super::reading::phases(run)),
        (
            "How the recording was read",
            super::reading::understood(run),
        ),
        (
            "Further recordings and their clocks",
            super::clocks::further(run),
        ),
    ]
    .into_iter()
    .filter(|(_, table)| !table.rows.is_empty())
    .collect()
}

/// The quantities of the run, a table for each matter.
fn quantities(run: &RunResult) -> [Table; 7] {
    [
        super::pressures::of(run),
        super::diameters::of(run),
        super::flow::areas(run),
        super::flow::flow(run),
        super::flow::hypothetical(run),
        super::references::balloon(run),
        super::references::line(run),
    ]
}
