//! Labels that differ by case or blanks only, and so make two groups of what is one.

use super::setup::ids;
use crate::recording::{Finding, GroupBy, GroupColumn, Place, RunKind, StudyTables};
use std::collections::BTreeMap;

/// Rows named of each spelling.
const ROWS_NAMED: usize = 5;

/// A label as it is meant: neither case nor blanks make another.
fn meant(label: &str) -> String {
    let words: Vec<&str> = label.split_whitespace().collect();
    words.join(" ").to_lowercase()
}

/// Column of the tables that a known column of groups is read from.
fn column_of(column: &GroupColumn) -> &str {
    match column.name() {
        "balloon" => "balloon_id",
        name => name,
    }
}

/// A doubt for every label of the groups that frame runs spell in more than one way, at the first row of the rarer spelling.
pub(super) fn spellings(tables: &StudyTables, group_by: &GroupBy) -> Vec<Finding> {
    let mut findings = Vec::new();
    for column in group_by.columns().map(column_of) {
        let mut labels: BTreeMap<String, BTreeMap<&str, Vec<Place>>> = BTreeMap::new();
        for run in tables.runs.iter().filter(|run| run.kind == RunKind::Frame) {
            let Some(cell) = tables.listed.cell(column, ids(run)) else {
                continue;
            };
            let places = labels
                .entry(meant(cell.text))
                .or_default()
                .entry(cell.text)
                .or_default();
            // A frame used twice has one row.
            if !places.contains(&cell.at) {
                places.push(cell.at);
            }
        }
        for spellings in labels.into_values().filter(|of| of.len() > 1) {
            findings.extend(told(column, spellings.into_iter().collect()));
        }
    }
    findings
}

fn told(column: &str, mut spellings: Vec<(&str, Vec<Place>)>) -> Option<Finding> {
    spellings.sort_by_key(|(_, places)| std::cmp::Reverse(places.len()));
    let usual = spellings.first()?.0;
    let rare = spellings.last()?.1.first()?.clone();
    let each: Vec<String> = spellings
        .iter()
        .map(|(label, places)| format!("\"{label}\" ({})", lines(places)))
        .collect();
    Some(
        Finding::doubt(
            "label-spelling",
            format!("the column {column} holds {}", each.join(" and ")),
        )
        .at(rare)
        .effect("labels that differ by case or blanks only are groups of their own: each has fewer runs than the lab thinks")
        .help(format!("if one thing is meant, write \"{usual}\" everywhere")),
    )
}

/// `runs.csv, lines 4, 5 and 2 more`.
fn lines(places: &[Place]) -> String {
    let file = places.first().and_then(|at| at.file.clone());
    let named: Vec<String> = places
        .iter()
        .filter_map(|at| Some(at.line?.to_string()))
        .take(ROWS_NAMED)
        .collect();
    let more = match places.len().saturating_sub(named.len()) {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    format!(
        "{}, line{} {}{more}",
        file.unwrap_or_default(),
        if places.len() == 1 { "" } else { "s" },
        named.join(", ")
    )
}
