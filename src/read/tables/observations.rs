//! `observations.csv`: whatever else was seen or measured, as numbers, grades or yes and no.
//!
//! A known observation (`known_observations.rs`) has values of a known kind. Any other is carried too: its kind is that of most of its
//! values, and is told. A value of another kind or unit is reported at its cell, stays in the results as written, and counts for nothing.

use super::super::number::Cell;
use super::known_observations::{Expected, KNOWN, Known, find, plain};
use super::row::{Row, STAGES};
use super::source::Table;
use crate::recording::{
    Finding, GRADES, ObservationKind, ObservationRow, Place, Severity, suggest,
};
use crate::uncertain::Quantity;
use crate::units::{self, Dimension, UNITS, Unit};
use std::collections::BTreeMap;

/// Highest grade written as a number.
const HIGHEST_GRADE: u8 = 4;
const YES_NO: &[(&str, bool)] = &[
    ("yes", true),
    ("y", true),
    ("true", true),
    ("no", false),
    ("n", false),
    ("false", false),
];
/// What a grade may have in the column of units.
const GRADE_UNIT: &str = "grade";
/// Units named in a help.
const EXAMPLES: usize = 4;
/// Why an observation has no uncertainty.
const NO_U: &str = "the row gives no standard uncertainty in a column u";

/// A value as it looks by itself.
#[derive(Debug, Clone, PartialEq)]
enum Seen {
    Empty,
    Number(f64, Option<&'static Unit>),
    /// A number with a unit nobody knows.
    Strange(f64),
    Grade(String, u8),
    YesNo(bool),
    Text,
}

/// Reads the other observations.
pub(super) fn observations(table: &Table, findings: &mut Vec<Finding>) -> Vec<ObservationRow> {
    if let Some(error) = table.missing(&["run_id", "what", "value"]) {
        findings.push(error);
        return Vec::new();
    }
    findings.extend(table.unknown(
        &["run_id", "stage", "what", "value", "unit", "u", "observer"],
        &[],
    ));
    let guessed = guess(table, findings);
    let mut rows = Vec::new();
    for row in table.rows.iter() {
        let mut row = Row::new(table, row, findings);
        let (Some(run_id), Some(what)) = (row.needed("run_id"), row.needed("what")) else {
            continue;
        };
        let known = find(what);
        let name = known.map_or_else(|| plain(what), |known| known.name.to_owned());
        let mut observation = ObservationRow {
            run_id: run_id.to_owned(),
            stage: row.word("stage", STAGES, Severity::Doubt).ok().flatten(),
            what: what.to_owned(),
            value: row.owned("value").unwrap_or_default(),
            unit: row.owned("unit"),
            observer: row.owned("observer"),
            name,
            kind: None,
            number: None,
            quantity: None,
            grade: None,
            grade_rank: None,
            yes: None,
            reason: None,
        };
        let expected = match known {
            Some(known) => known.expected.to_vec(),
            None => guessed
                .get(&observation.name)
                .copied()
                .into_iter()
                .collect(),
        };
        if let Err(reason) = understand(&mut row, known, &expected, &mut observation) {
            observation.reason = Some(reason);
        }
        rows.push(observation);
    }
    rows
}

/// What a value looks like.
fn look(row: &Row<'_, '_>) -> Seen {
    let text = row.text("value").unwrap_or_default();
    let unit = row.text("unit");
    if text.is_empty() {
        return Seen::Empty;
    }
    let lower = text.to_lowercase();
    if let Some((_, yes)) = YES_NO.iter().find(|(word, _)| *word == lower) {
        return Seen::YesNo(*yes);
    }
    if let Some((word, rank)) = GRADES.iter().find(|(word, _)| *word == lower) {
        return Seen::Grade((*word).to_owned(), *rank);
    }
    match (row.cell_of(text), unit) {
        (Cell::Missing, _) => Seen::Empty,
        (Cell::Number(number), Some(unit)) if unit.eq_ignore_ascii_case(GRADE_UNIT) => {
            grade(number).unwrap_or(Seen::Number(number, None))
        }
        (Cell::Number(number), Some(unit)) => match units::find_any(unit) {
            Some(unit) => Seen::Number(number, Some(unit)),
            None => Seen::Strange(number),
        },
        (Cell::Number(number), None) => Seen::Number(number, None),
        // "0.5 mm" in one cell.
        (Cell::Text, None) => text
            .split_once(char::is_whitespace)
            .and_then(|(number, unit)| match row.cell_of(number) {
                Cell::Number(number) => Some(Seen::Number(number, Some(units::find_any(unit)?))),
                _ => None,
            })
            .unwrap_or(Seen::Text),
        (Cell::Text, Some(_)) => Seen::Text,
    }
}

/// A grade written as a number.
fn grade(number: f64) -> Option<Seen> {
    let whole = number.fract() == 0.0 && (0.0..=f64::from(HIGHEST_GRADE)).contains(&number);
    whole.then(|| Seen::Grade(format!("{number:.0}"), number as u8))
}

/// What a value looks like on its own; `None` where nothing can be expected from it.
fn alone(seen: &Seen) -> Option<Expected> {
    match seen {
        Seen::Number(_, Some(unit)) if counts(unit) => Some(Expected::Count),
        Seen::Number(_, Some(unit)) => Some(Expected::Number(unit.dimension)),
        Seen::Grade(..) => Some(Expected::Grade),
        Seen::YesNo(_) => Some(Expected::YesNo),
        Seen::Text => Some(Expected::Text),
        Seen::Empty | Seen::Number(_, None) | Seen::Strange(_) => None,
    }
}

fn counts(unit: &Unit) -> bool {
    unit.symbol == "counts"
}

/// What the values of every unknown observation mostly are, told once each.
fn guess(table: &Table, findings: &mut Vec<Finding>) -> BTreeMap<String, Expected> {
    struct Tally<'t> {
        what: &'t str,
        line: u64,
        rows: usize,
        votes: Vec<(Expected, usize)>,
    }
    let mut tallies: BTreeMap<String, Tally<'_>> = BTreeMap::new();
    let mut unheard = Vec::new();
    for cells in table.rows.iter() {
        let row = Row::new(table, cells, &mut unheard);
        let Some(what) = row.text("what").filter(|what| find(what).is_none()) else {
            continue;
        };
        let tally = tallies.entry(plain(what)).or_insert_with(|| Tally {
            what,
            line: row.line,
            rows: 0,
            votes: Vec::new(),
        });
        tally.rows += 1;
        if let Some(vote) = alone(&look(&row)) {
            match tally.votes.iter_mut().find(|(kind, _)| *kind == vote) {
                Some((_, votes)) => *votes += 1,
                None => tally.votes.push((vote, 1)),
            }
        }
    }
    let mut guessed = BTreeMap::new();
    let names: Vec<&str> = KNOWN.iter().map(|known| known.name).collect();
    for (name, tally) in tallies {
        // The first of equals: a list sorted by votes would turn them round.
        let most = tally.votes.iter().map(|(_, votes)| *votes).max();
        let kind = tally
            .votes
            .iter()
            .find(|(_, votes)| Some(*votes) == most)
            .map_or(Expected::Text, |(kind, _)| *kind);
        let finding = Finding::note(
            "observation-unknown",
            format!(
                "\"{}\" is no known observation; its values ({}) are taken for {}",
                tally.what,
                tally.rows,
                word(kind)
            ),
        )
        .at(Place::cell(&table.file, tally.line, "what"));
        findings.push(match suggest(&name, names.iter().copied()) {
            Some(near) => finding.help(format!("is \"{near}\" meant?")),
            None => finding.help(format!("known are {}", names.join(", "))),
        });
        guessed.insert(name, kind);
    }
    guessed
}

fn word(expected: Expected) -> String {
    match expected {
        Expected::Number(dimension) => format!("{} with its unit", dimension.word()),
        Expected::Count => "a count".to_owned(),
        Expected::Grade => "a grade".to_owned(),
        Expected::YesNo => "yes or no".to_owned(),
        Expected::Text => "words".to_owned(),
    }
}

fn wanted(expected: &[Expected]) -> String {
    let words: Vec<String> = expected.iter().map(|e| word(*e)).collect();
    words.join(", or ")
}

/// How what is expected is written.
fn examples(expected: &[Expected]) -> String {
    let of = |dimension: Dimension| {
        UNITS
            .iter()
            .filter(move |unit| unit.dimension == dimension)
            .map(|unit| unit.symbol)
            .take(EXAMPLES)
    };
    let ways: Vec<String> = expected
        .iter()
        .map(|expected| match expected {
            Expected::Number(dimension) => {
                let units: Vec<&str> = of(*dimension).collect();
                format!("a number in {}", units.join(", "))
            }
            Expected::Count => "a whole number with the unit count".to_owned(),
            Expected::Grade => {
                let words: Vec<&str> = GRADES.iter().map(|(word, _)| *word).collect();
                format!("{}, or 0 to {HIGHEST_GRADE}", words.join(", "))
            }
            Expected::YesNo => "yes or no".to_owned(),
            Expected::Text => "words".to_owned(),
        })
        .collect();
    format!("write {}", ways.join("; "))
}

/// Fills in what the value is; the reason where it is not what was expected.
fn understand(
    row: &mut Row<'_, '_>,
    known: Option<&Known>,
    expected: &[Expected],
    into: &mut ObservationRow,
) -> Result<(), String> {
    let seen = look(row);
    let allows = |kind: Expected| expected.contains(&kind);
    let what = into.what.clone();
    match seen {
        Seen::Empty => {
            let reason = format!("\"{what}\" has no value");
            row.report(Severity::Doubt, "cell-empty", "value", reason.clone(), None);
            return Err(reason);
        }
        // Nothing of it: a grade for some, a no for others.
        Seen::Grade(ref word, 0)
            if word == "none" && !allows(Expected::Grade) && allows(Expected::YesNo) =>
        {
            into.kind = Some(ObservationKind::YesNo);
            into.yes = Some(false);
        }
        Seen::Grade(word, rank) if allows(Expected::Grade) => set_grade(into, word, rank),
        Seen::Number(number, None) if allows(Expected::Grade) && grade(number).is_some() => {
            set_grade(into, format!("{number:.0}"), number as u8);
        }
        Seen::YesNo(yes) if allows(Expected::YesNo) => {
            into.kind = Some(ObservationKind::YesNo);
            into.yes = Some(yes);
        }
        Seen::Number(number, Some(unit))
            if allows(Expected::Number(unit.dimension))
                || counts(unit) && allows(Expected::Count) =>
        {
            return set_number(row, known, into, number, unit);
        }
        _ if allows(Expected::Text) => into.kind = Some(ObservationKind::Text),
        seen => return Err(refuse(row, expected, into, &seen)),
    }
    if into.kind != Some(ObservationKind::Text)
        && let Some(unit) = row
            .text("unit")
            .filter(|u| !u.eq_ignore_ascii_case(GRADE_UNIT))
    {
        row.report(
            Severity::Doubt,
            "observation-unit-unused",
            "unit",
            format!(
                "\"{what}\" is {}, no number: its unit \"{unit}\" counts for nothing",
                into.value
            ),
            Some(examples(expected)),
        );
    }
    Ok(())
}

fn set_grade(into: &mut ObservationRow, word: String, rank: u8) {
    into.kind = Some(ObservationKind::Grade);
    into.grade = Some(word);
    into.grade_rank = Some(rank);
}

/// A value that is not what was expected, told at its cell.
fn refuse(
    row: &mut Row<'_, '_>,
    expected: &[Expected],
    into: &ObservationRow,
    seen: &Seen,
) -> String {
    let unit = row.text("unit").unwrap_or_default();
    let (code, column, found, near) = match seen {
        Seen::Strange(_) => (
            "unknown-unit",
            "unit",
            format!("is in \"{unit}\", no known unit"),
            units::nearest(unit),
        ),
        Seen::Number(number, None) => (
            "observation-no-unit",
            "unit",
            format!("is the number {number} without a unit"),
            None,
        ),
        Seen::Number(_, Some(unit)) => (
            "observation-unit",
            "unit",
            format!("is in {}, {}", unit.symbol, unit.dimension.word()),
            None,
        ),
        Seen::Grade(..) => (
            "observation-kind",
            "value",
            format!("is \"{}\", a grade", into.value),
            None,
        ),
        Seen::YesNo(_) => (
            "observation-kind",
            "value",
            format!("is \"{}\", yes or no", into.value),
            None,
        ),
        Seen::Text | Seen::Empty => (
            "observation-kind",
            "value",
            format!("is \"{}\"", into.value),
            None,
        ),
    };
    let reason = format!(
        "\"{}\" {found}; {} was expected",
        into.what,
        wanted(expected)
    );
    let help = match near {
        Some(near) => format!("did you mean \"{near}\"? {}", examples(expected)),
        None => examples(expected),
    };
    row.report(
        Severity::Error,
        code,
        column,
        format!("{reason}; the value was not used"),
        Some(help),
    );
    reason
}

fn set_number(
    row: &mut Row<'_, '_>,
    known: Option<&Known>,
    into: &mut ObservationRow,
    number: f64,
    unit: &'static Unit,
) -> Result<(), String> {
    let below = number < 0.0 && (counts(unit) || known.is_some_and(|known| !known.negative));
    let piece = counts(unit) && number.fract() != 0.0;
    if below || piece {
        let expected = if piece {
            "a whole number"
        } else {
            "no number below 0"
        };
        let reason = format!("\"{}\" is {number}; {expected} was expected", into.what);
        row.report(
            Severity::Error,
            "value-out-of-range",
            "value",
            format!("{reason}; the value was not used"),
            None,
        );
        return Err(reason);
    }
    let u = row.number("u");
    if let Some(bad) = u.filter(|u| *u <= 0.0) {
        row.report(
            Severity::Doubt,
            "value-out-of-range",
            "u",
            format!("the standard uncertainty of \"{}\" is {bad}; a number above 0 was expected, it was left out", into.what),
            None,
        );
    }
    let value = unit.to_bench(number);
    let (symbol, method) = (unit.bench().symbol, "as written down");
    into.kind = Some(ObservationKind::Number);
    into.number = Some(number);
    into.quantity = Some(match u.filter(|u| *u > 0.0) {
        Some(u) => Quantity::known(value, u * unit.factor.abs(), symbol, method),
        None => Quantity::without_u(value, symbol, method, NO_U),
    });
    Ok(())
}
