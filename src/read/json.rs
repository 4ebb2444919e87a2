//! JSON as a table: one object a line, an array of records, or an object of columns.

use super::encoding::{decode, not_text};
use super::format::{Format, Opened, Sniffed};
use super::json_rows::{Columns, records};
use super::json_scan::{Elements, skip_blanks, value_end};
use super::json_tree::tree;
use super::split::Lines;
use crate::recording::{Finding, Place};
use crate::rig::DialectSpec;

/// JSON Lines, a JSON array of records, or a JSON object of columns.
#[derive(Debug, Clone, Copy)]
pub struct Json;

impl Format for Json {
    fn name(&self) -> &'static str {
        "JSON"
    }

    fn sniff(&self, bytes: &[u8]) -> Sniffed {
        // UTF-16 has a zero beside every character that matters here.
        let head: Vec<u8> = bytes
            .iter()
            .take(512)
            .copied()
            .filter(|byte| {
                !matches!(
                    byte,
                    0 | b' ' | b'\t' | b'\r' | b'\n' | 0xef | 0xbb | 0xbf | 0xfe | 0xff
                )
            })
            .take(2)
            .collect();
        let opens = match head.as_slice() {
            [b'{', b'"' | b'}'] | [b'[', b'{' | b'[' | b'"'] => true,
            // "[12:00] ..." and the like begin no JSON.
            [b'[', second] => second.is_ascii_digit() && json_numbers(bytes),
            _ => false,
        };
        let json = opens && not_text(bytes).is_none();
        Sniffed {
            confidence: if json { 0.9 } else { 0.0 },
            reason: if json {
                "it begins with the brackets of JSON".to_owned()
            } else {
                "it does not begin with the brackets of JSON".to_owned()
            },
        }
    }

    fn open(&self, bytes: Vec<u8>, spec: &DialectSpec, shown_as: &str) -> Result<Opened, Finding> {
        let decoded = decode(bytes, spec.encoding.as_deref(), shown_as)?;
        let text = decoded.text.as_str();
        let mut opened = match shape(text) {
            Shape::Records(records_of, closed) => {
                records(text, records_of, closed, &Columns::default(), shown_as)?
            }
            Shape::Tree => tree(text, shown_as)?,
        };
        opened.encoding = decoded.encoding;
        let mut findings = decoded.findings;
        findings.append(&mut opened.findings);
        opened.findings = findings;
        Ok(opened)
    }
}

/// True where the first line is an array of numbers and nothing else.
fn json_numbers(bytes: &[u8]) -> bool {
    let head: Vec<u8> = bytes
        .iter()
        .take(4096)
        .copied()
        .filter(|byte| *byte != 0)
        .collect();
    let text = String::from_utf8_lossy(&head);
    let line = Lines::new(&text).next().map_or("", |line| line.text.trim());
    serde_json::from_str::<Vec<Option<f64>>>(line).is_ok_and(|numbers| numbers.len() > 1)
}

/// Records one behind the other: each with the byte at which it starts.
pub(super) type Records<'t> = Box<dyn Iterator<Item = (usize, &'t str)> + 't>;

enum Shape<'t> {
    /// Records, and a way to have them again; false where the text ends before its last bracket.
    Records(Box<dyn Fn() -> Records<'t> + 't>, bool),
    /// One object with columns or records somewhere in it.
    Tree,
}

fn shape(text: &str) -> Shape<'_> {
    let bytes = text.as_bytes();
    let first = skip_blanks(bytes, 0);
    let object = bytes.get(first) == Some(&b'{');
    let end = value_end(text, first);
    let more = end.is_some_and(|end| skip_blanks(bytes, end) < bytes.len());
    // One value a line: JSON Lines. A single object may be one too, if nothing in it is a list.
    if more || (object && end.is_some_and(|end| !text[first..end].contains('['))) {
        return Shape::Records(Box::new(move || Box::new(Lined::new(text))), true);
    }
    if object {
        return Shape::Tree;
    }
    let closed = end.is_some();
    Shape::Records(
        Box::new(move || {
            let elements = Elements::new(text, first);
            Box::new(
                elements
                    .into_iter()
                    .flatten()
                    .map(|element| (element.start, element.value)),
            )
        }),
        closed,
    )
}

/// One value a line; a line that holds none comes as it is, for the parser to refuse.
struct Lined<'t> {
    lines: Lines<'t>,
}

impl<'t> Lined<'t> {
    fn new(text: &'t str) -> Self {
        Self {
            lines: Lines::new(text),
        }
    }
}

impl<'t> Iterator for Lined<'t> {
    type Item = (usize, &'t str);

    fn next(&mut self) -> Option<Self::Item> {
        self.lines
            .by_ref()
            .map(|line| (line.start, line.text.trim()))
            .find(|(_, text)| !text.is_empty())
    }
}

/// The error for JSON that is no table.
pub(super) fn no_table(message: String, shown_as: &str) -> Finding {
    Finding::error("json-no-table", message)
        .at(Place::file(shown_as))
        .help("one object a line with the same keys, an array of such objects, or one object with a list of numbers for every column is read")
}
