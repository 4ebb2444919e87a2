//! What else was seen over the runs of each arm, as a table of the statistics.

use crate::recording::{Group, ObservationKind, ObservationSummary};
use crate::report::show::{self, MISSING};
use crate::report::table::{Cell, Table, numbers, words};

const NOTE: &str = "Observations have no standard uncertainty unless a column u gives one: intervals come from the scatter between runs. Grades are counted, not averaged; yes and no have exact limits of the share, counts those of a Poisson mean.";

/// Every observation of every arm but words.
pub(super) fn table(groups: &[Group]) -> Table {
    let rows = groups
        .iter()
        .flat_map(|group| {
            let told = group.observations.iter();
            told.filter(|o| o.kind != ObservationKind::Text)
                .map(|o| row(&group.name, o))
        })
        .collect();
    let mut table = Table::new(
        "What else was seen",
        vec![
            words("Group"),
            words("What"),
            words("Stage"),
            numbers("Runs", "n"),
            words("Unit"),
            numbers("Mean or share", ""),
            numbers("Standard deviation", ""),
            numbers("Median", ""),
            numbers("Range", ""),
            words("Counts"),
        ],
        rows,
    );
    NOTE.clone_into(&mut table.note);
    table.class = "runs";
    table.cards = true;
    table
}

fn row(arm: &str, o: &ObservationSummary) -> Vec<Cell> {
    let number = o.number.as_ref();
    let written = |value: Option<f64>| {
        Cell::number(value.map_or_else(|| MISSING.to_owned(), |v| show::digits(v, 3)))
    };
    let share = o.share.as_ref();
    let mean = match (&o.rate, number, share) {
        (Some(rate), _, _) => Cell::interval(rate, 1.0),
        (None, Some(number), _) => Cell::interval(&number.mean, 1.0),
        (None, None, Some(share)) => Cell::interval(&share.share, 0.01),
        (None, None, None) => Cell::number(MISSING),
    };
    let grade = o.grades.as_ref();
    let median = match grade {
        Some(grades) => Cell::text(grades.median.as_deref().unwrap_or(MISSING)),
        None => written(number.map(|n| n.median)),
    };
    let counts = match (grade, share) {
        (Some(grades), _) => {
            let counts = grades.counts.iter();
            let counts = counts.map(|(grade, n)| format!("{grade}: {n}"));
            counts.collect::<Vec<_>>().join(", ")
        }
        (None, Some(share)) => format!("yes: {}, no: {}", share.yes, o.n - share.yes),
        (None, None) => MISSING.to_owned(),
    };
    let unit = match (number, share) {
        (Some(number), _) => number.unit.clone(),
        (None, Some(_)) => "%".to_owned(),
        (None, None) => o.kind.word().to_owned(),
    };
    vec![
        Cell::text(arm),
        Cell {
            title: o.method.clone(),
            ..Cell::text(&o.name)
        },
        Cell::maybe(o.stage.map(crate::recording::Stage::word)),
        Cell {
            title: format!("{} runs of the arm do not have it", o.without),
            ..Cell::number(o.n.to_string())
        },
        Cell::text(unit),
        mean,
        written(number.and_then(|n| n.sd)),
        median,
        Cell::number(number.map_or_else(
            || MISSING.to_owned(),
            |n| format!("{} to {}", show::digits(n.min, 3), show::digits(n.max, 3)),
        )),
        Cell::text(counts),
    ]
}
