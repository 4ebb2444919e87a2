//! The rows of a table, read in parts side by side: an outline has a hundred thousand of them.

use super::super::number::MarkVotes;
use super::super::split::{LONGEST_LINE, Lines, clean, line_end, split};
use super::super::stamp_sniff::looks_like_stamp;
use super::cells::Cells;
use super::source::WORDS;
use crate::recording::{Finding, Place};
use rayon::prelude::*;
use std::borrow::Cow;

/// A table has at most so many rows; an outline has thousands of points, a flow record tens of thousands.
const MAX_ROWS: usize = 5_000_000;
/// A cell with line breaks in it spans at most so many lines.
const MAX_JOINED: usize = 50;
/// Bytes of a part: some thousand rows.
const PART: usize = 1 << 18;

/// Header of a table.
pub(super) struct Header<'h> {
    pub file: &'h str,
    pub columns: &'h [String],
    pub delimiter: char,
}

/// Rows with what they say of the marks of numbers.
#[derive(Default)]
pub(super) struct Rows {
    pub cells: Cells,
    pub votes: MarkVotes,
    pub findings: Vec<Finding>,
}

impl Header<'_> {
    /// All rows of a text from a byte on, which begins line `number`.
    pub fn rows(&self, text: &str, at: usize, number: u64) -> Rows {
        let numbers: Vec<bool> = self.columns.iter().map(|c| may_be_numbers(c)).collect();
        let parts = parts(text, at, number);
        let read =
            |(lines, end): &(Lines<'_>, usize)| self.part(lines.clone().until(*end), &numbers);
        let mut all = Rows::default();
        for part in parts.par_iter().map(read).collect::<Vec<_>>() {
            all.cells.append(&part.cells);
            all.votes.merge(part.votes);
            all.findings.extend(part.findings);
        }
        all
    }

    fn part(&self, lines: Lines<'_>, numbers: &[bool]) -> Rows {
        let mut rows = Rows::default();
        for (line, text) in Records::of(lines) {
            if text.len() > LONGEST_LINE || rows.cells.len() >= MAX_ROWS {
                rows.findings.push(too_large(self.file, line));
                break;
            }
            let cells = cells_of(&text, self.delimiter);
            if is_blank(&cells) {
                continue;
            }
            if self.is_header(&cells) {
                rows.findings.push(
                    Finding::note(
                        "header-again",
                        "the header stands again and was passed over",
                    )
                    .at(Place::line(self.file, line)),
                );
                continue;
            }
            for (numbers, cell) in numbers.iter().zip(&cells) {
                if *numbers && !looks_like_stamp(cell) {
                    rows.votes.add(cell);
                }
            }
            rows.findings.extend(self.too_long(&cells, line));
            rows.cells.push(line, cells.iter().map(AsRef::as_ref));
        }
        rows
    }

    /// True where the header stands again: two sheets copied below each other.
    fn is_header(&self, cells: &[Cow<'_, str>]) -> bool {
        cells.len() > 1
            && self.columns.len() == cells.len()
            && self.columns.iter().zip(cells).all(|(column, cell)| {
                column.eq_ignore_ascii_case(cell)
                    || !cell.is_ascii() && *column == cell.to_lowercase()
            })
    }

    fn too_long(&self, cells: &[Cow<'_, str>], line: u64) -> Option<Finding> {
        let mut beyond = cells.iter().skip(self.columns.len());
        beyond.any(|cell| !cell.is_empty()).then(|| {
            Finding::doubt(
                "row-too-long",
                format!(
                    "the row has {} cells, the header {}; the cells beyond were left out",
                    cells.len(),
                    self.columns.len()
                ),
            )
            .at(Place::line(self.file, line))
            .help("put cells that hold the delimiter into double quotes")
        })
    }
}

/// The error for a table that is no table.
pub(super) fn too_large(file: &str, line: u64) -> Finding {
    Finding::error(
        "table-too-large",
        format!("{file} has a line of more than {LONGEST_LINE} bytes or more than {MAX_ROWS} rows; the rest was left out"),
    )
    .at(Place::line(file, line))
}

/// True for columns whose cells may be numbers, which tell the marks of the table.
fn may_be_numbers(column: &str) -> bool {
    !WORDS.contains(&column) && !column.starts_with(crate::rig::TRACE_COLUMN)
}

/// The cells of a line.
pub(super) fn cells_of(text: &str, delimiter: char) -> Vec<Cow<'_, str>> {
    let mut cells = Vec::new();
    split(text, delimiter, &mut cells);
    cells.into_iter().map(clean).collect()
}

/// True for a row without a word, and for a remark.
pub(super) fn is_blank(cells: &[Cow<'_, str>]) -> bool {
    cells.iter().all(|cell| cell.is_empty())
        || cells.first().is_some_and(|cell| cell.starts_with('#'))
}

/// The lines of each part from a byte on, and the byte it ends before. A text with quotes is one part: a quoted cell may hold line ends.
fn parts(text: &str, at: usize, number: u64) -> Vec<(Lines<'_>, usize)> {
    let bytes = text.as_bytes();
    let rest = bytes.get(at..).unwrap_or_default();
    if memchr::memchr(b'"', rest).is_some() {
        return vec![(Lines::from(text, at, number), text.len())];
    }
    let end = line_end(text);
    let (mut parts, mut at, mut number) = (Vec::new(), at, number);
    while at < bytes.len() {
        let reach = (at + PART).min(bytes.len());
        let stop = bytes
            .get(reach..)
            .and_then(|rest| memchr::memchr(end, rest))
            .map_or(bytes.len(), |found| reach + found + 1);
        parts.push((Lines::from(text, at, number), stop));
        number += memchr::memchr_iter(end, &bytes[at..stop]).count() as u64;
        at = stop;
    }
    parts
}

/// Lines, those with an open quote joined with the ones that close it.
pub(super) struct Records<'t> {
    lines: Lines<'t>,
}

impl<'t> Records<'t> {
    pub fn of(lines: Lines<'t>) -> Self {
        Self { lines }
    }

    /// The byte and the number of the next line.
    pub fn place(&self) -> (usize, u64) {
        self.lines.place()
    }
}

impl<'t> Iterator for Records<'t> {
    type Item = (u64, Cow<'t, str>);

    fn next(&mut self) -> Option<Self::Item> {
        let line = self.lines.next()?;
        if !opens(line.text) {
            return Some((line.number, Cow::Borrowed(line.text)));
        }
        let mut ahead = self.lines.clone();
        let mut joined = line.text.to_owned();
        for _ in 1..MAX_JOINED {
            let Some(next) = ahead.next() else {
                break;
            };
            joined.push(' ');
            joined.push_str(next.text);
            if opens(next.text) {
                self.lines = ahead;
                return Some((line.number, Cow::Owned(joined)));
            }
        }
        // The quote never closes: it is only a stray mark.
        Some((line.number, Cow::Borrowed(line.text)))
    }
}

/// True where a quote is left open, or closed, at the end of a line.
fn opens(line: &str) -> bool {
    memchr::memchr_iter(b'"', line.as_bytes()).count() % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Vec<(u64, String, String)> {
        let columns = ["a".to_owned(), "b".to_owned()];
        let header = Header {
            file: "t.csv",
            columns: &columns,
            delimiter: ',',
        };
        let rows = header.rows(text, 0, 1);
        let cells = rows.cells.iter();
        cells
            .map(|row| (row.line, row.get(0).to_owned(), row.get(1).to_owned()))
            .collect()
    }

    #[test]
    fn parts_hold_every_row_once_with_its_line() {
        for end in ["\n", "\r\n", "\r"] {
            let lines: Vec<String> = (0..100_000)
                .map(|n| format!("{n},{}{end}", n * 7))
                .collect();
            let text = lines.concat();
            assert!(text.len() > 3 * PART);
            let rows = rows(&text);
            assert_eq!(rows.len(), 100_000);
            for (n, (line, a, b)) in rows.iter().enumerate() {
                assert_eq!((*line, a.as_str()), (n as u64 + 1, n.to_string().as_str()));
                assert_eq!(b, &(n * 7).to_string());
            }
        }
    }

    #[test]
    fn quotes_join_lines_and_stray_ones_do_not() {
        let of = |text| {
            rows(text)
                .into_iter()
                .map(|(line, a, b)| format!("{line}:{a}|{b}"))
                .collect::<Vec<_>>()
        };
        assert_eq!(of("\"x\ny\",1\nz,2\n"), ["1:x y|1", "3:z|2"]);
        assert_eq!(of("5\" pipe,1\nz,2\n"), ["1:5\" pipe|1", "2:z|2"]);
    }
}
