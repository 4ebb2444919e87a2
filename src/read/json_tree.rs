//! One JSON object that holds a recording: lists of numbers as columns, or a list of records, with the rest as preamble.

use super::format::Opened;
use super::json::no_table;
use super::json_rows::{Columns, Writer, flatten, records, scalars, truncated, units_beside};
use super::json_scan::{Element, Elements};
use super::number::Marks;
use crate::recording::{Finding, Place};
use serde_json::Value;

/// Objects inside objects are followed so deep.
const DEEPEST: usize = 6;
/// Columns, or keys of the preamble, at most.
const MOST: usize = 4096;
/// Longest value taken over into the preamble, characters.
const LONGEST_VALUE: usize = 200;
/// Keys under which the names of the columns of records that are arrays stand.
const NAMES: &[&str] = &[
    "columns", "names", "channels", "fields", "header", "headers",
];

/// What an object holds, keys joined with points.
#[derive(Default)]
struct Found<'t> {
    preamble: Vec<(String, String)>,
    lists: Vec<(String, Element<'t>)>,
    records: Vec<(String, Element<'t>)>,
    /// False where the text ends before a bracket closes.
    closed: bool,
}

/// Reads an object of columns, or one around a list of records.
///
/// # Errors
/// An error finding where it holds neither, several lists of records, or columns of unequal length.
pub(super) fn tree(text: &str, shown_as: &str) -> Result<Opened, Finding> {
    let mut found = Found {
        closed: true,
        ..Found::default()
    };
    walk(text, 0, "", 0, &mut found);
    let mut beside = Columns {
        preamble: std::mem::take(&mut found.preamble),
        ..Columns::default()
    };
    match found.records.as_slice() {
        [] => columns(text, &found, beside, shown_as),
        [(_, list)] => {
            let list = *list;
            let mut left = Vec::new();
            for (key, element) in &found.lists {
                let last = key.rsplit('.').next().unwrap_or_default().to_lowercase();
                let words = scalars(element.value, MOST).and_then(words);
                match words {
                    Some(words) if NAMES.contains(&last.as_str()) => beside.names = words,
                    Some(words) if matches!(last.as_str(), "units" | "unit") => {
                        beside.units = words;
                    }
                    _ => left.push(format!("\"{key}\"")),
                }
            }
            if beside.units.len() != beside.names.len() {
                beside.units.clear();
            }
            let records_of = move || -> super::json::Records<'_> {
                Box::new(
                    Elements::new(text, list.start)
                        .into_iter()
                        .flatten()
                        .map(|element| (element.start, element.value)),
                )
            };
            let mut opened = records(text, records_of, found.closed, &beside, shown_as)?;
            if !left.is_empty() {
                opened.findings.push(
                    Finding::note(
                        "json-left-out",
                        format!(
                            "beside the records the file has lists that were not read: {}",
                            left.join(", ")
                        ),
                    )
                    .at(Place::file(shown_as)),
                );
            }
            Ok(opened)
        }
        several => {
            let names: Vec<String> = several
                .iter()
                .take(8)
                .map(|(key, _)| format!("\"{key}\""))
                .collect();
            Err(no_table(
                format!(
                    "{shown_as} holds several lists of records: {}",
                    names.join(", ")
                ),
                shown_as,
            )
            .help("export the list that is the recording to a file of its own"))
        }
    }
}

fn words(values: Vec<Value>) -> Option<Vec<String>> {
    values
        .into_iter()
        .map(|value| match value {
            Value::String(word) => Some(word),
            Value::Null => Some(String::new()),
            _ => None,
        })
        .collect()
}

fn walk<'t>(text: &'t str, at: usize, prefix: &str, depth: usize, found: &mut Found<'t>) {
    let Some(mut elements) = Elements::new(text, at).filter(Elements::is_object) else {
        return;
    };
    for element in elements.by_ref() {
        let key: String = serde_json::from_str(element.key).unwrap_or_default();
        let key = if prefix.is_empty() {
            key
        } else {
            format!("{prefix}.{key}")
        };
        if found.preamble.len() + found.lists.len() + found.records.len() >= MOST {
            return;
        }
        match element.value.as_bytes().first() {
            Some(b'{') if depth < DEEPEST => walk(text, element.start, &key, depth + 1, found),
            Some(b'[') => {
                let mut inner = Elements::new(text, element.start);
                let first = inner.as_mut().and_then(Iterator::next);
                let nested = first.is_some_and(|first| first.value.starts_with(['{', '[']));
                if nested {
                    found.records.push((key, element));
                } else {
                    found.lists.push((key, element));
                }
            }
            _ => {
                let value = serde_json::from_str(element.value).unwrap_or(Value::Null);
                let mut flat = Vec::new();
                flatten(&key, &value, &mut flat);
                found.preamble.extend(flat.into_iter().map(|(key, value)| {
                    let value = match value {
                        Value::String(text) => text,
                        other => other.to_string(),
                    };
                    (key, value.chars().take(LONGEST_VALUE).collect())
                }));
            }
        }
    }
    found.closed &= elements.closed;
}

/// Columns of equal length, side by side.
fn columns(
    text: &str,
    found: &Found<'_>,
    mut beside: Columns,
    shown_as: &str,
) -> Result<Opened, Finding> {
    let lengths: Vec<usize> = found
        .lists
        .iter()
        .map(|(_, element)| Elements::new(text, element.start).map_or(0, Iterator::count))
        .collect();
    let longest = lengths.iter().copied().max().unwrap_or(0);
    if longest < 2 {
        return Err(no_table(
            format!("{shown_as} is a JSON object without lists of readings"),
            shown_as,
        ));
    }
    // A list much shorter than the others is no column: names, limits, calibration points.
    let is_column = |length: usize| length * 2 > longest;
    let mut left = Vec::new();
    let mut parts = Vec::new();
    for ((key, element), length) in found.lists.iter().zip(&lengths) {
        if is_column(*length) {
            beside.names.push(last_part(key, &found.lists));
            parts.push((key, *length, Elements::new(text, element.start)));
        } else {
            left.push(format!("\"{key}\""));
        }
    }
    let shortest = parts
        .iter()
        .map(|(_, length, _)| *length)
        .min()
        .unwrap_or(0);
    if found.closed
        && let Some((key, length, _)) = parts.iter().find(|(_, length, _)| *length != longest)
    {
        return Err(no_table(
            format!("the list \"{key}\" of {shown_as} has {length} values where another has {longest}: which belong together cannot be told"),
            shown_as,
        )
        .help("export the file again with a value, or null, for every sample of every column"));
    }
    beside.units = units_beside(&beside.names, &beside.preamble);
    let mut writer = Writer::new(&beside);
    // Columns stand one behind the other, so a sample has no line of its own: samples are counted in place of lines.
    for _ in 0..shortest {
        for (at, (_, _, elements)) in parts.iter_mut().enumerate() {
            let value = elements
                .as_mut()
                .and_then(Iterator::next)
                .and_then(|element| serde_json::from_str::<Value>(element.value).ok());
            writer.cell(at == 0, value.as_ref(), Marks::POINT);
        }
        writer.end_row();
        if writer.is_full() {
            return Err(no_table(format!("{shown_as} has too many cells"), shown_as)
                .help("cut the recording to the run, or export it as CSV"));
        }
    }
    let mut findings = Vec::new();
    if !found.closed {
        findings.push(truncated(shown_as));
    }
    if !left.is_empty() {
        findings.push(
            Finding::note(
                "json-left-out",
                format!(
                    "lists much shorter than the columns were not read: {}",
                    left.join(", ")
                ),
            )
            .at(Place::file(shown_as)),
        );
    }
    Ok(writer.opened(&beside, findings))
}

/// The last part of a joined key, where no other list shares it: `data.time_s` is `time_s`.
fn last_part(key: &str, lists: &[(String, Element<'_>)]) -> String {
    let last = |key: &str| key.rsplit('.').next().unwrap_or_default().to_owned();
    let mine = last(key);
    if lists
        .iter()
        .filter(|(other, _)| last(other) == mine)
        .count()
        > 1
    {
        key.to_owned()
    } else {
        mine
    }
}
