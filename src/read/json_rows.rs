//! Records of JSON as lines of cells: keys become columns, nested keys are joined with a point.

use super::columns::with_unit;
use super::format::Opened;
use super::json::{Records, no_table};
use super::json_scan::Elements;
use super::number::{MarkVotes, Marks};
use super::sheet::{CELL_MARK, push_text};
use crate::recording::{Finding, Place};
use crate::rig::DialectSpec;
use serde_json::Value;
use std::collections::BTreeMap;

/// Columns at most.
const MOST_COLUMNS: usize = 4096;
/// Cells at most, as in a sheet: records with keys of their own would otherwise ask for rows times rows.
const MOST_CELLS: usize = 200_000_000;
/// Records looked at for the marks of numbers written as text.
const VOTERS: usize = 2000;
/// Longest record, bytes; one is held in memory as a tree.
const LONGEST_RECORD: usize = 1 << 20;

/// Names and units that stand beside the records, and what else does.
#[derive(Debug, Clone, Default)]
pub(super) struct Columns {
    /// Names of the columns of records that are arrays.
    pub names: Vec<String>,
    /// Units, as many as names, or none.
    pub units: Vec<String>,
    /// Keys with values that are no columns.
    pub preamble: Vec<(String, String)>,
}

/// Lines of cells being written, each at the line of the file it came from where that is possible.
pub(super) struct Writer {
    pub text: String,
    line: u64,
    added: u64,
    cells: usize,
}

impl Writer {
    /// Preamble and header.
    pub fn new(columns: &Columns) -> Self {
        let mut writer = Self {
            text: String::new(),
            line: 1,
            added: 0,
            cells: 0,
        };
        for (key, value) in &columns.preamble {
            let cells = [key.clone(), value.clone()];
            writer.head(&cells);
        }
        if !columns.names.is_empty() {
            let names: Vec<String> = columns
                .names
                .iter()
                .enumerate()
                .map(|(at, name)| with_unit(name, columns.units.get(at).map_or("", String::as_str)))
                .collect();
            writer.head(&names);
        }
        writer
    }

    fn head(&mut self, cells: &[String]) {
        for (at, cell) in cells.iter().enumerate() {
            if at > 0 {
                self.text.push(CELL_MARK);
            }
            push_text(&mut self.text, cell, Marks::POINT);
        }
        self.text.push('\n');
        self.added += 1;
    }

    /// Goes on to a line of the file, unless the text is there or beyond already.
    pub fn go_to(&mut self, line: u64) {
        while self.line < line {
            self.text.push('\n');
            self.line += 1;
        }
    }

    pub fn cell(&mut self, first: bool, value: Option<&Value>, marks: Marks) {
        self.cells += 1;
        if !first {
            self.text.push(CELL_MARK);
        }
        match value {
            None | Some(Value::Null) => {}
            // A switch or a mark.
            Some(Value::Bool(on)) => self.text.push(if *on { '1' } else { '0' }),
            Some(Value::String(text)) => push_text(&mut self.text, text, marks),
            Some(other) => push_text(&mut self.text, &other.to_string(), Marks::POINT),
        }
    }

    pub fn end_row(&mut self) {
        self.text.push('\n');
        self.line += 1;
    }

    pub fn is_full(&self) -> bool {
        self.cells > MOST_CELLS
    }

    /// The text, with the header rows declared where there are names.
    pub fn opened(self, columns: &Columns, findings: Vec<Finding>) -> Opened {
        Opened {
            text: self.text,
            encoding: String::new(),
            fixed: DialectSpec {
                delimiter: Some(CELL_MARK),
                decimal: Some('.'),
                thousands: Some(None),
                skip_lines: Some(columns.preamble.len()),
                header_rows: (!columns.names.is_empty()).then_some(1),
                comment: Some(None),
                ..DialectSpec::default()
            },
            added: self.added,
            findings,
        }
    }
}

/// Counts lines up to a byte, going forward only.
pub(super) struct LineCounter<'t> {
    text: &'t str,
    at: usize,
    line: u64,
    end: u8,
}

impl<'t> LineCounter<'t> {
    pub fn new(text: &'t str) -> Self {
        Self {
            text,
            at: 0,
            line: 1,
            // Old exports end lines with a carriage return alone.
            end: if text.contains('\n') { b'\n' } else { b'\r' },
        }
    }

    pub fn line_of(&mut self, byte: usize) -> u64 {
        if let Some(passed) = self.text.as_bytes().get(self.at..byte) {
            self.line += memchr::memchr_iter(self.end, passed).count() as u64;
            self.at = byte;
        }
        self.line
    }
}

/// Records as a table. `records_of` gives them anew each time, since the columns must be known before the first row.
///
/// # Errors
/// An error finding where no record can be read, or they have too many columns or cells.
pub(super) fn records<'t>(
    text: &'t str,
    records_of: impl Fn() -> Records<'t>,
    closed: bool,
    beside: &Columns,
    shown_as: &str,
) -> Result<Opened, Finding> {
    let mut columns = beside.clone();
    let mut order: BTreeMap<String, usize> = BTreeMap::new();
    let mut votes = MarkVotes::default();
    let (mut good, mut bad, mut arrays) = (0_usize, Bad::default(), 0_usize);
    let mut lines = LineCounter::new(text);
    for (start, record) in records_of() {
        let line = lines.line_of(start);
        match parse(record) {
            Some(Value::Object(map)) => {
                let mut flat = Vec::new();
                flatten("", &Value::Object(map), &mut flat);
                for (key, value) in flat {
                    if let Value::String(text) = &value
                        && good < VOTERS
                    {
                        votes.add(text);
                    }
                    let next = order.len();
                    order.entry(key).or_insert(next);
                }
                good += 1;
            }
            Some(Value::Array(cells)) => {
                if good < VOTERS {
                    for cell in &cells {
                        if let Value::String(text) = cell {
                            votes.add(text);
                        }
                    }
                }
                arrays += 1;
                good += 1;
            }
            _ => bad.add(line, record, start + record.len() >= text.trim_end().len()),
        }
        if order.len() > MOST_COLUMNS {
            return Err(no_table(
                format!("the records of {shown_as} have more than {MOST_COLUMNS} different keys"),
                shown_as,
            ));
        }
    }
    if good == 0 {
        return Err(no_table(
            format!("{shown_as} looks like JSON, but no record in it can be read"),
            shown_as,
        ));
    }
    if arrays > 0 && arrays < good {
        return Err(no_table(
            format!("{shown_as} mixes objects and arrays as records"),
            shown_as,
        ));
    }
    let marks = votes.marks(';').0;
    if arrays == 0 {
        let mut names = vec![String::new(); order.len()];
        for (key, at) in &order {
            if let Some(name) = names.get_mut(*at) {
                name.clone_from(key);
            }
        }
        columns.units = units_beside(&names, &columns.preamble);
        columns.names = names;
    }
    let mut writer = Writer::new(&columns);
    let mut lines = LineCounter::new(text);
    let mut row = vec![Value::Null; order.len()];
    for (start, record) in records_of() {
        match parse(record) {
            Some(Value::Array(cells)) => {
                writer.go_to(lines.line_of(start));
                for (at, cell) in cells.iter().take(MOST_COLUMNS).enumerate() {
                    writer.cell(at == 0, Some(cell), marks);
                }
                writer.end_row();
            }
            Some(object @ Value::Object(_)) => {
                writer.go_to(lines.line_of(start));
                row.fill(Value::Null);
                let mut flat = Vec::new();
                flatten("", &object, &mut flat);
                for (key, value) in flat {
                    if let Some(slot) = order.get(&key).and_then(|at| row.get_mut(*at)) {
                        *slot = value;
                    }
                }
                for (at, value) in row.iter().enumerate() {
                    writer.cell(at == 0, Some(value), marks);
                }
                writer.end_row();
            }
            _ => {}
        }
        if writer.is_full() {
            return Err(no_table(
                format!("{shown_as} has more than {MOST_CELLS} cells"),
                shown_as,
            )
            .help("cut the recording to the run, or export it as CSV"));
        }
    }
    let mut findings = bad.findings(shown_as);
    if !closed {
        findings.push(truncated(shown_as));
    }
    Ok(writer.opened(&columns, findings))
}

/// The doubt for a document that ends before its last bracket.
pub(super) fn truncated(shown_as: &str) -> Finding {
    Finding::doubt(
        "file-truncated",
        format!("{shown_as} ends before its last bracket: it was read up to its last whole record"),
    )
    .at(Place::file(shown_as))
    .help("copy or export the file again; the end of the recording is missing")
}

fn parse(record: &str) -> Option<Value> {
    if record.len() > LONGEST_RECORD {
        return None;
    }
    serde_json::from_str(record.trim_end_matches(',')).ok()
}

/// Nested keys joined with points, elements of lists by their number.
pub(super) fn flatten(prefix: &str, value: &Value, into: &mut Vec<(String, Value)>) {
    let joined = |key: &str| {
        if prefix.is_empty() {
            key.to_owned()
        } else {
            format!("{prefix}.{key}")
        }
    };
    match value {
        _ if into.len() > MOST_COLUMNS => {}
        Value::Object(map) => {
            for (key, value) in map {
                flatten(&joined(key), value, into);
            }
        }
        Value::Array(list) => {
            for (at, value) in list.iter().enumerate() {
                flatten(&joined(&at.to_string()), value, into);
            }
        }
        other => into.push((prefix.to_owned(), other.clone())),
    }
}

/// The units out of `units.NAME` keys of the preamble; empty where there are none.
pub(super) fn units_beside(names: &[String], preamble: &[(String, String)]) -> Vec<String> {
    let unit_of = |name: &String| {
        preamble.iter().find_map(|(key, value)| {
            let of = key
                .strip_prefix("units.")
                .or_else(|| key.strip_prefix("unit."))?;
            (of == name).then(|| value.clone())
        })
    };
    let units: Vec<String> = names
        .iter()
        .map(|name| unit_of(name).unwrap_or_default())
        .collect();
    if units.iter().all(String::is_empty) {
        Vec::new()
    } else {
        units
    }
}

/// The elements of a list of scalars, parsed; `None` where one is no scalar.
pub(super) fn scalars(value: &str, most: usize) -> Option<Vec<Value>> {
    Elements::new(value, 0)?
        .take(most)
        .map(|element| parse(element.value).filter(|value| !value.is_object() && !value.is_array()))
        .collect()
}

/// Records that cannot be read: how many, the first with its line, and whether the last of all is one of them.
#[derive(Debug, Default)]
struct Bad {
    count: usize,
    first: Option<(u64, String)>,
    last: Option<u64>,
}

impl Bad {
    fn add(&mut self, line: u64, record: &str, at_end: bool) {
        if at_end {
            self.last = Some(line);
            return;
        }
        self.count += 1;
        if self.first.is_none() {
            self.first = Some((line, record.chars().take(40).collect()));
        }
    }

    fn findings(self, shown_as: &str) -> Vec<Finding> {
        let mut findings = Vec::new();
        if let Some((line, text)) = self.first {
            findings.push(
                Finding::doubt(
                    "json-record-bad",
                    format!(
                        "{} record(s) are no sound JSON and were left out; the first reads \"{text}\"",
                        self.count
                    ),
                )
                .at(Place::line(shown_as, line)),
            );
        }
        if let Some(line) = self.last {
            findings.push(
                Finding::note(
                    "last-line-cut",
                    "the last record is cut short and was left out",
                )
                .at(Place::line(shown_as, line)),
            );
        }
        findings
    }
}
