//! How a text is laid out as a table: what parts the cells, which marks numbers have, where the header ends.
//!
//! What the rig declares is taken as it is; the rest is sniffed from the text itself.

use super::number::{Cell, MarkVotes, Marks, read_cell};
use super::split::{LONGEST_LINE, Line, Lines, clean, split, split_blank_header};
use super::stamp_sniff::looks_like_stamp;
use crate::recording::{Finding, Place};
use crate::rig::DialectSpec;
use crate::units;

/// Delimiters tried, the surest first, with a handicap: blanks also stand inside dates, commas inside numbers.
const DELIMITERS: &[(char, f64)] = &[
    ('\u{1f}', 1.0),
    ('\t', 1.0),
    (';', 1.0),
    ('|', 1.0),
    (',', 0.97),
    (' ', 0.85),
];
/// Lines sampled at the front, in the middle and at the end.
const SAMPLE: (usize, usize, usize) = (300, 100, 40);
/// Lines among which the data must begin.
const DEEPEST_HEADER: usize = 20_000;
/// Data rows in a row that show where the data begin.
const SURE_ROWS: usize = 3;
/// Rows at the front, and bytes at the end, by which columns are judged.
const JUDGED: (usize, usize) = (60, 4096);
/// A column is one of numbers from this share of readable cells.
const NUMERIC_SHARE: f64 = 0.6;

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
        let text = line.trim_start();
        text.is_empty()
            || self
                .comment
                .as_deref()
                .is_some_and(|mark| text.starts_with(mark))
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
    let header = find_header(text, spec, delimiter, marks, comment.as_deref(), &columns)
        .ok_or_else(|| no_rows(shown_as))?;
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
    let useful = |line: &Line<'_>| {
        let text = line.text.trim_start();
        !text.is_empty() && comment.is_none_or(|mark| !text.starts_with(mark))
    };
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

/// The delimiter under which most lines have the same number of readable cells, with the marks that go with it.
fn choose_delimiter(sample: &[&str], spec: &DialectSpec) -> (char, Marks, bool) {
    let tail = &sample[sample.len() / 4..];
    let mut best = (f64::NEG_INFINITY, ',', Marks::POINT, false);
    for (delimiter, handicap) in DELIMITERS {
        if spec
            .delimiter
            .is_some_and(|declared| declared != *delimiter)
        {
            continue;
        }
        let rows: Vec<Vec<&str>> = tail
            .iter()
            .map(|line| {
                let mut cells = Vec::new();
                split(line, *delimiter, &mut cells);
                cells
            })
            .collect();
        let width = usual_width(&rows);
        let mut votes = MarkVotes::default();
        for cell in rows.iter().filter(|row| row.len() == width).flatten() {
            if !looks_like_stamp(cell) {
                votes.add(cell);
            }
        }
        let (mut marks, unclear) = votes.marks(*delimiter);
        if let Some(decimal) = spec.decimal {
            marks = Marks {
                decimal,
                thousands: marks.thousands.filter(|mark| *mark != decimal),
            };
        }
        let (mut same, mut readable, mut filled) = (0_usize, 0_usize, 0_usize);
        for row in &rows {
            same += usize::from(row.len() == width);
            for cell in row {
                match read_cell(cell, marks) {
                    Cell::Number(_) => {
                        readable += 1;
                        filled += 1;
                    }
                    Cell::Missing => {}
                    Cell::Text => {
                        readable += usize::from(looks_like_stamp(cell));
                        filled += 1;
                    }
                }
            }
        }
        let share = same as f64 / rows.len().max(1) as f64;
        let typed = readable as f64 / filled.max(1) as f64;
        // One column is what any wrong delimiter gives.
        let single = if width > 1 { 1.0 } else { 0.6 };
        let score = share * typed * single * handicap;
        if score > best.0 {
            best = (score, *delimiter, marks, unclear);
        }
    }
    (best.1, best.2, best.3)
}

/// The number of cells most rows have.
fn usual_width(rows: &[Vec<&str>]) -> usize {
    let mut widths: Vec<usize> = rows.iter().map(Vec::len).collect();
    widths.sort_unstable();
    let mut best = (0, 0);
    for run in widths.chunk_by(|a, b| a == b) {
        if let Some(width) = run.first()
            && run.len() >= best.0
        {
            best = (run.len(), *width);
        }
    }
    best.1
}

/// What the columns of the sample hold.
#[derive(Debug, Clone)]
struct Columns {
    width: usize,
    numeric: Vec<bool>,
}

impl Columns {
    fn of(sample: &[&str], delimiter: char, marks: Marks) -> Self {
        let rows: Vec<Vec<&str>> = sample[sample.len() / 4..]
            .iter()
            .map(|line| {
                let mut cells = Vec::new();
                split(line, delimiter, &mut cells);
                cells
            })
            .collect();
        let width = usual_width(&rows);
        let numeric = (0..width)
            .map(|column| {
                let (mut readable, mut filled) = (0_usize, 0_usize);
                for cell in rows
                    .iter()
                    .filter(|row| row.len() == width)
                    .filter_map(|row| row.get(column))
                {
                    if cell.trim().is_empty() {
                        continue;
                    }
                    filled += 1;
                    readable += usize::from(is_reading(cell, marks));
                }
                filled > 0 && readable as f64 >= NUMERIC_SHARE * filled as f64
            })
            .collect();
        Self { width, numeric }
    }

    /// True for a row with readings and no word in the columns of numbers.
    fn is_data(&self, cells: &[&str], marks: Marks) -> bool {
        if cells.len() * 2 < self.width {
            return false;
        }
        let (mut readings, mut words) = (0_usize, 0_usize);
        for (cell, numeric) in cells.iter().zip(&self.numeric) {
            if !numeric || cell.trim().is_empty() {
                continue;
            }
            if is_reading(cell, marks) {
                readings += 1;
            } else {
                words += 1;
            }
        }
        readings > 0 && words * 10 <= readings
    }
}

fn is_reading(cell: &str, marks: Marks) -> bool {
    match read_cell(cell, marks) {
        Cell::Number(_) => true,
        Cell::Missing => !cell.trim().is_empty(),
        Cell::Text => looks_like_stamp(cell),
    }
}

/// The lines up to the first data row, and where that row starts.
struct Header<'t> {
    lines: Vec<Line<'t>>,
    data: (usize, u64),
    /// Which of `lines` are names, units and groups.
    names: Option<usize>,
    units: Option<usize>,
    groups: Option<usize>,
    first: usize,
    rows: usize,
}

fn find_header<'t>(
    text: &'t str,
    spec: &DialectSpec,
    delimiter: char,
    marks: Marks,
    comment: Option<&str>,
    columns: &Columns,
) -> Option<Header<'t>> {
    let skip = spec.skip_lines.unwrap_or(0);
    let lines: Vec<Line<'t>> = Lines::new(text).take(DEEPEST_HEADER + skip).collect();
    let useful = |line: &Line<'_>| {
        let text = line.text.trim_start();
        !text.is_empty() && comment.is_none_or(|mark| !text.starts_with(mark))
    };
    let end_of = |at: usize| match lines.get(at) {
        Some(line) => (line.start, line.number),
        None => (text.len(), lines.len() as u64 + 1),
    };
    // Both declared: nothing to find, only to tell names from units.
    if let (Some(skip), Some(rows)) = (spec.skip_lines, spec.header_rows) {
        let header: Vec<usize> = (skip..lines.len())
            .filter(|at| lines.get(*at).is_some_and(useful))
            .take(rows)
            .collect();
        let data = header.last().map_or(skip, |last| last + 1);
        let mut found = Header {
            lines: lines.get(..data).unwrap_or(&lines).to_vec(),
            data: end_of(data),
            names: None,
            units: None,
            groups: None,
            first: skip.min(lines.len()),
            rows: header.len(),
        };
        name_rows(&mut found, &header, delimiter);
        return Some(found);
    }
    let is_data = |line: &Line<'_>| {
        let mut cells = Vec::new();
        split(line.text, delimiter, &mut cells);
        columns.is_data(&cells, marks)
    };
    let useful_at: Vec<usize> = (skip..lines.len())
        .filter(|at| lines.get(*at).is_some_and(useful))
        .collect();
    let first = useful_at.iter().enumerate().position(|(at, _)| {
        useful_at
            .iter()
            .skip(at)
            .take(SURE_ROWS)
            .all(|index| lines.get(*index).is_some_and(is_data))
    })?;
    let data = *useful_at.get(first)?;
    let above: Vec<usize> = useful_at
        .iter()
        .take(first)
        .copied()
        .filter(|at| {
            lines
                .get(*at)
                .is_some_and(|line| is_heading(line.text, delimiter, marks, columns.width))
        })
        .collect();
    let header = header_rows(
        &lines,
        &above,
        data,
        delimiter,
        spec.header_rows,
        &useful_at,
        columns.width,
    );
    let mut found = Header {
        lines: lines.get(..data).unwrap_or_default().to_vec(),
        data: end_of(data),
        names: None,
        units: None,
        groups: None,
        first: header.first().copied().unwrap_or(data),
        rows: header.len(),
    };
    name_rows(&mut found, &header, delimiter);
    Some(found)
}

/// True for a line that may head the columns: about as many cells as the data, and words in them.
fn is_heading(line: &str, delimiter: char, marks: Marks, width: usize) -> bool {
    let cells = heading_cells(line, delimiter, width);
    let filled = cells.iter().filter(|cell| !cell.is_empty()).count();
    let numbers = cells
        .iter()
        .filter(|cell| matches!(read_cell(cell, marks), Cell::Number(_)))
        .count();
    filled > 0 && cells.len() * 5 >= width * 3 && numbers * 2 <= filled
}

/// The header rows right above the data: names, names and units, groups and names, or names, units and labels.
fn header_rows(
    lines: &[Line<'_>],
    above: &[usize],
    data: usize,
    delimiter: char,
    declared: Option<usize>,
    useful: &[usize],
    width: usize,
) -> Vec<usize> {
    let Some(last) = above.last().copied() else {
        return Vec::new();
    };
    // Only lines with nothing but blank lines between them and the data head the columns.
    let between = useful
        .iter()
        .filter(|at| **at > last && **at < data)
        .count();
    if between > 0 || declared == Some(0) {
        return Vec::new();
    }
    if let Some(rows) = declared {
        return above[above.len().saturating_sub(rows)..].to_vec();
    }
    let cells = |at: usize| {
        lines
            .get(at)
            .map(|line| heading_cells(line.text, delimiter, width))
            .unwrap_or_default()
    };
    let adjacent = |upper: usize, lower: usize| !useful.iter().any(|at| *at > upper && *at < lower);
    let second = above
        .len()
        .checked_sub(2)
        .and_then(|at| above.get(at))
        .copied();
    let third = above
        .len()
        .checked_sub(3)
        .and_then(|at| above.get(at))
        .copied();
    let Some(second) = second.filter(|second| adjacent(*second, last)) else {
        return vec![last];
    };
    if is_units_row(&cells(last)) {
        return vec![second, last];
    }
    // Names, units, and a row of labels over blocks of columns.
    if let Some(third) = third.filter(|third| adjacent(*third, second))
        && is_units_row(&cells(second))
    {
        return vec![third, second, last];
    }
    // A row of group names above names that would not be told apart without it.
    let names = cells(last);
    let twice = names
        .iter()
        .enumerate()
        .any(|(at, name)| !name.is_empty() && names[..at].contains(name));
    let upper = cells(second);
    if twice && upper.len() >= width.saturating_sub(1) && upper.iter().any(|cell| !cell.is_empty())
    {
        return vec![second, last];
    }
    vec![last]
}

/// Tells names, units and groups among the header rows.
fn name_rows(header: &mut Header<'_>, rows: &[usize], delimiter: char) {
    let units = |at: &usize| {
        header
            .lines
            .get(*at)
            .is_some_and(|line| is_units_row(&heading_cells(line.text, delimiter, 0)))
    };
    match rows {
        [] => {}
        [names] => header.names = Some(*names),
        [names, second] if units(second) => {
            header.names = Some(*names);
            header.units = Some(*second);
        }
        [groups, names] => {
            header.groups = Some(*groups);
            header.names = Some(*names);
        }
        [names, second, rest @ ..] if units(second) => {
            header.names = Some(*names);
            header.units = Some(*second);
            header.groups = rest.first().copied();
        }
        [groups, names, third, ..] => {
            header.groups = Some(*groups);
            header.names = Some(*names);
            header.units = units(third).then_some(*third);
        }
    }
}

/// True for a row that names units.
fn is_units_row(cells: &[String]) -> bool {
    let filled: Vec<&String> = cells.iter().filter(|cell| !cell.is_empty()).collect();
    let known = filled
        .iter()
        .filter(|cell| units::find(cell).is_some())
        .count();
    let short = filled.iter().all(|cell| cell.chars().count() <= 16);
    known > 0 && known * 2 >= filled.len() && short
}

fn heading_cells(line: &str, delimiter: char, width: usize) -> Vec<String> {
    if delimiter == ' ' {
        return split_blank_header(line, width);
    }
    let mut cells = Vec::new();
    split(line, delimiter, &mut cells);
    cells.into_iter().map(clean).collect()
}

fn fill_header(layout: &mut Layout, header: &Header<'_>, columns: &Columns) {
    let row = |at: Option<usize>| -> Vec<String> {
        at.and_then(|at| header.lines.get(at))
            .map(|line| heading_cells(line.text, layout.delimiter, columns.width))
            .unwrap_or_default()
    };
    let (mut names, mut groups, mut units) =
        (row(header.names), row(header.groups), row(header.units));
    let width = columns.width.max(names.len());
    names.resize(width, String::new());
    groups.resize(width, String::new());
    units.resize(width, String::new());
    // A group stands over its first column only.
    for at in 1..width {
        if groups[at].is_empty() {
            groups[at] = groups[at - 1].clone();
        }
    }
    layout.names_line = header
        .names
        .and_then(|at| header.lines.get(at))
        .map(|line| line.number);
    layout.skip_lines = header.first;
    layout.header_rows = header.rows;
    layout.header_lines = header
        .lines
        .iter()
        .skip(header.first)
        .map(|line| line.text.trim().to_owned())
        .filter(|line| !line.is_empty())
        .collect();
    layout.preamble = header
        .lines
        .iter()
        .take(header.first)
        .filter_map(|line| key_value(line.text, layout.delimiter))
        .collect();
    layout.data = header.data;
    (layout.names, layout.groups, layout.units) = (names, groups, units);
}

/// A preamble line as key and value.
fn key_value(line: &str, delimiter: char) -> Option<(String, String)> {
    let line = line.trim().trim_start_matches(['#', '%', '/']).trim();
    let mut cells = Vec::new();
    split(line, delimiter, &mut cells);
    let mut cells = cells.into_iter().map(clean).filter(|cell| !cell.is_empty());
    let key = cells.next()?;
    if delimiter != ' ' {
        let rest: Vec<String> = cells.collect();
        if !rest.is_empty() {
            return Some((
                key.trim_end_matches([':', '=']).trim().to_owned(),
                rest.join(" "),
            ));
        }
    }
    let whole = line.trim_matches(['"', delimiter]);
    let (key, value) = whole
        .split_once([':', '=', '\t'])
        .or_else(|| whole.split_once("  "))
        .unwrap_or((whole, ""));
    Some((clean(key), clean(value)))
}
