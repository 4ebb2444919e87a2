//! How a text is laid out as a table: what parts the cells, which marks numbers have, where the header ends.
//!
//! What the rig declares is taken as it is; the rest is sniffed from the text itself.

use super::columns_seen::{Columns, choose_delimiter};
use super::header::{HeaderSearch, fill_header};
use super::number::Marks;
use super::split::{LONGEST_LINE, Line, Lines, is_skipped, split};
use crate::recording::{Finding, Place};
use crate::rig::DialectSpec;

/// Lines sampled at the front, in the middle and at the end.
const SAMPLE: (usize, usize, usize) = (300, 100, 40);
/// Rows at the front, and bytes at the end, by which columns are judged.
const JUDGED: (usize, usize) = (60, 4096);
/// The layout of one text.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Layout {
    /// What parts cells.
    pub delimiter: char,
    /// Marks of numbers.
    pub marks: Marks,
    /// What begins a comment line.
    pub comment: Option<String>,
    /// Lines before the header.
    pub skip_lines: usize,
    /// Header rows.
    pub header_rows: usize,
    /// Names, one a column, empty where there is none.
    pub names: Vec<String>,
    /// Names of groups of columns, one a column, empty where there is none.
    pub groups: Vec<String>,
    /// Units of the units row, one a column, empty where there is none.
    pub units: Vec<String>,
    /// `key: value` lines before the header.
    pub preamble: Vec<(String, String)>,
    /// Byte at which the first line behind the header starts, and its number.
    pub data: (usize, u64),
    /// Line of the names, if there is one.
    pub names_line: Option<u64>,
    /// Header lines as written, to know them again when the logger restarts.
    pub header_lines: Vec<String>,
    /// Doubts about the layout.
    pub findings: Vec<Finding>,
}

impl Layout {
    /// Number of columns.
    pub fn width(&self) -> usize {
        self.names.len()
    }

    /// Delimiter in the word of the rig file.
    pub fn delimiter_word(&self) -> String {
        delimiter_word(self.delimiter)
    }

    /// Cells of the first and the last data rows, to judge columns by.
    pub fn sample<'t>(&self, text: &'t str) -> Vec<Vec<&'t str>> {
        let cells = |line: Line<'t>| {
            let mut cells = Vec::new();
            split(line.text, self.delimiter, &mut cells);
            cells
        };
        let mut last = self.data.0;
        let mut sample: Vec<Vec<&str>> = Lines::from(text, self.data.0, self.data.1)
            .filter(|line| !self.is_skipped(line.text))
            .take(JUDGED.0)
            .map(|line| {
                last = line.start + line.text.len();
                cells(line)
            })
            .collect();
        let mut at = text.len().saturating_sub(JUDGED.1).max(last);
        while at < text.len() && !text.is_char_boundary(at) {
            at += 1;
        }
        // The first line met is cut by where the search begins, the last may be cut by the logger.
        sample.extend(
            Lines::from(text, at, 0)
                .skip(1)
                .filter(|line| line.ended && !self.is_skipped(line.text))
                .map(cells),
        );
        sample
    }

    /// True for blank and comment lines.
    pub fn is_skipped(&self, line: &str) -> bool {
        is_skipped(line, self.comment.as_deref())
    }
}

/// A delimiter in the word of the rig file.
pub(crate) fn delimiter_word(delimiter: char) -> String {
    match delimiter {
        '\t' => "tab".to_owned(),
        ' ' => "whitespace".to_owned(),
        '\u{1f}' => "cells".to_owned(),
        other => other.to_string(),
    }
}

/// Works out the layout of a text.
///
/// # Errors
/// An error finding where a line is too long or nothing in the text looks like rows of numbers.
pub(crate) fn layout(text: &str, spec: &DialectSpec, shown_as: &str) -> Result<Layout, Finding> {
    let mut findings = Vec::new();
    let comment = match &spec.comment {
        Some(declared) => declared.clone(),
        None => sniff_comment(text),
    };
    let sample = sample_lines(
        text,
        spec.skip_lines.unwrap_or(0),
        comment.as_deref(),
        shown_as,
    )?;
    if sample.is_empty() {
        return Err(no_rows(shown_as));
    }
    let (delimiter, mut marks, unclear) = choose_delimiter(&sample, spec);
    if let Some(decimal) = spec.decimal {
        if decimal != marks.decimal {
            marks.thousands = None;
        }
        marks.decimal = decimal;
    }
    if let Some(thousands) = spec.thousands {
        marks.thousands = thousands;
    }
    if unclear && spec.decimal.is_none() {
        findings.push(
            Finding::doubt(
                "decimal-unclear",
                format!(
                    "whether the mark in numbers like 1{m}234 is decimal or groups thousands cannot be told for certain; \"{}\" was taken as decimal",
                    marks.decimal,
                    m = if marks.decimal == ',' || marks.thousands == Some(',') { ',' } else { '.' }
                ),
            )
            .at(Place::file(shown_as))
            .help("declare decimal and thousands in [dialect] of the rig"),
        );
    }
    let columns = Columns::of(&sample, delimiter, marks);
    let search = HeaderSearch {
        spec,
        delimiter,
        marks,
        comment: comment.as_deref(),
        columns: &columns,
    };
    let header = search.find(text).ok_or_else(|| no_rows(shown_as))?;
    let mut layout = Layout {
        delimiter,
        marks,
        comment,
        skip_lines: 0,
        header_rows: 0,
        names: Vec::new(),
        groups: Vec::new(),
        units: Vec::new(),
        preamble: Vec::new(),
        data: (0, 1),
        names_line: None,
        header_lines: Vec::new(),
        findings,
    };
    fill_header(&mut layout, &header, &columns);
    Ok(layout)
}

fn no_rows(shown_as: &str) -> Finding {
    Finding::error(
        "no-data-rows",
        format!("{shown_as} holds no rows of numbers"),
    )
    .at(Place::file(shown_as))
    .help("check that it is the right file, and delimiter, decimal and skip_lines in [dialect] of the rig")
}

/// The mark that begins comment lines in this text, if any does.
fn sniff_comment(text: &str) -> Option<String> {
    let marked = |mark: &str| {
        Lines::new(text)
            .take(SAMPLE.0)
            .any(|line| line.text.trim_start().starts_with(mark))
            || text.contains(&format!("\n{mark}"))
    };
    // "#NUM!" and the like may begin a row of readings.
    let hash = marked("#")
        && Lines::new(text)
            .filter(|line| line.text.starts_with('#'))
            .take(SAMPLE.0)
            .all(|line| {
                let word = line
                    .text
                    .split([',', ';', '\t', '|'])
                    .next()
                    .unwrap_or_default();
                !super::number::is_missing_word(word.trim())
            });
    if hash {
        return Some("#".to_owned());
    }
    ["//", "%"]
        .into_iter()
        .find(|mark| marked(mark))
        .map(str::to_owned)
}

/// Lines from the front, the middle and the end, without blank and comment lines.
fn sample_lines<'t>(
    text: &'t str,
    skip: usize,
    comment: Option<&str>,
    shown_as: &str,
) -> Result<Vec<&'t str>, Finding> {
    let useful = |line: &Line<'_>| !is_skipped(line.text, comment);
    let front: Vec<Line<'_>> = Lines::new(text).skip(skip).take(SAMPLE.0).collect();
    let mut lines: Vec<&str> = front
        .iter()
        .filter(|line| useful(line))
        .map(|line| line.text)
        .collect();
    let mut end = front.last().map_or(0, |line| line.start + line.text.len());
    for (share, count) in [(0.5, SAMPLE.1), (0.97, SAMPLE.2)] {
        let mut at = ((text.len() as f64 * share) as usize).max(end);
        while at < text.len() && !text.is_char_boundary(at) {
            at += 1;
        }
        // The first line met is cut by where the sample begins.
        let later: Vec<Line<'_>> = Lines::from(text, at, 0).skip(1).take(count).collect();
        end = later
            .last()
            .map_or(end, |line| line.start + line.text.len());
        lines.extend(
            later
                .iter()
                .filter(|line| useful(line))
                .map(|line| line.text),
        );
    }
    if let Some(line) = lines.iter().find(|line| line.len() > LONGEST_LINE) {
        return Err(Finding::error(
            "line-too-long",
            format!(
                "{shown_as} has a line of {} bytes; lines of a table have at most {LONGEST_LINE}",
                line.len()
            ),
        )
        .at(Place::file(shown_as))
        .help("check that the file is a text table with line ends"));
    }
    Ok(lines)
}
