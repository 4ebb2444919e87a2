//! Where the header of a table is, and what its rows say.

use super::blocks::{label_first_block, repeat};
use super::columns_seen::Columns;
use super::layout::Layout;
use super::number::{Cell, Marks, read_cell};
use super::split::{Line, Lines, clean, is_skipped, split, split_blank_header};
use crate::rig::DialectSpec;
use crate::units;

/// Lines among which the data must begin.
const DEEPEST_HEADER: usize = 20_000;
/// Lines looked at first.
const USUAL_HEADER: usize = 400;
/// Data rows in a row that show where the data begin.
const SURE_ROWS: usize = 3;
/// The lines up to the first data row, and where that row starts.
pub(crate) struct Header<'t> {
    lines: Vec<Line<'t>>,
    data: (usize, u64),
    /// Which of `lines` are names, units and groups.
    names: Option<usize>,
    units: Option<usize>,
    groups: Option<usize>,
    /// The remark that holds the names, where there is no header else.
    commented: Option<usize>,
    first: usize,
    rows: usize,
}

/// What is known before the header is looked for.
pub(crate) struct HeaderSearch<'s> {
    pub spec: &'s DialectSpec,
    pub delimiter: char,
    pub marks: Marks,
    pub comment: Option<&'s str>,
    pub columns: &'s Columns,
}

impl HeaderSearch<'_> {
    /// The header of a text; `None` where no data begin.
    pub fn find<'t>(&self, text: &'t str) -> Option<Header<'t>> {
        let skip = self.spec.skip_lines.unwrap_or(0);
        let seen = |depth| -> Vec<Line<'t>> { Lines::new(text).take(depth + skip).collect() };
        let within = |lines: &[Line<'t>]| {
            let end = (text.len(), lines.len() as u64 + 1);
            self.within(lines, end)
        };
        // Nearly every header is short. Once enough rows stand behind it, what lies further behind says nothing of it.
        let lines = seen(USUAL_HEADER);
        let short = within(&lines).filter(|header| {
            let behind = lines.get(header.lines.len()..).unwrap_or_default();
            let useful = behind.iter().filter(|line| self.is_useful(line));
            useful.take(SURE_ROWS).count() == SURE_ROWS
        });
        short.or_else(|| within(&seen(DEEPEST_HEADER)))
    }

    fn is_useful(&self, line: &Line<'_>) -> bool {
        !is_skipped(line.text, self.comment)
    }

    /// The header, if it lies within some lines; `end` is the place behind them all, and its line.
    fn within<'t>(&self, lines: &[Line<'t>], end: (usize, u64)) -> Option<Header<'t>> {
        let Self {
            spec,
            delimiter,
            marks,
            comment,
            columns,
        } = *self;
        let skip = spec.skip_lines.unwrap_or(0);
        let useful = |line: &Line<'_>| self.is_useful(line);
        let end_of = |at: usize| lines.get(at).map_or(end, |line| (line.start, line.number));
        // Both declared: nothing to find, only to tell names from units.
        if let (Some(skip), Some(rows)) = (spec.skip_lines, spec.header_rows) {
            let header: Vec<usize> = (skip..lines.len())
                .filter(|at| lines.get(*at).is_some_and(useful))
                .take(rows)
                .collect();
            let first_useful = (skip..lines.len()).find(|at| lines.get(*at).is_some_and(useful));
            let data = header
                .last()
                .map_or(first_useful.unwrap_or(skip), |last| last + 1);
            let mut found = Header {
                lines: lines.get(..data).unwrap_or(lines).to_vec(),
                data: end_of(data),
                names: None,
                units: None,
                groups: None,
                commented: None,
                first: skip.min(lines.len()),
                rows: header.len(),
            };
            name_rows(&mut found, &header, delimiter);
            commented_names(&mut found, delimiter, marks, comment, columns.width);
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
            lines,
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
            commented: None,
            first: header.first().copied().unwrap_or(data),
            rows: header.len(),
        };
        name_rows(&mut found, &header, delimiter);
        commented_names(&mut found, delimiter, marks, comment, columns.width);
        Some(found)
    }
}

/// Some programs write the names behind the comment mark: the last remark above the data, where it has as many cells.
fn commented_names(
    header: &mut Header<'_>,
    delimiter: char,
    marks: Marks,
    comment: Option<&str>,
    width: usize,
) {
    let (None, Some(mark)) = (header.names, comment) else {
        return;
    };
    let last = header
        .lines
        .iter()
        .rposition(|line| line.text.trim_start().starts_with(mark));
    header.commented = last.filter(|at| {
        header.lines.get(*at).is_some_and(|line| {
            let bare = without_mark(line.text, mark);
            width > 1
                && heading_cells(bare, delimiter, width).len() == width
                && is_heading(bare, delimiter, marks, width)
        })
    });
}

/// A remark without its mark; the cell before a delimiter right behind the mark stays.
fn without_mark<'t>(line: &'t str, mark: &str) -> &'t str {
    let line = line.trim_start();
    line.strip_prefix(mark)
        .unwrap_or(line)
        .trim_start_matches(' ')
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
    let labels_over = |upper: usize, names: &[String]| {
        let upper = cells(upper);
        let twice = names
            .iter()
            .enumerate()
            .any(|(at, name)| !name.is_empty() && names[..at].contains(name));
        label_first_block(&upper, names)
            || twice
                && upper.len() >= width.saturating_sub(1)
                && upper.iter().any(|cell| !cell.is_empty())
    };
    let third = third.filter(|third| adjacent(*third, second));
    if is_units_row(&cells(last)) {
        let names = cells(second);
        return match third.filter(|third| labels_over(*third, &names)) {
            Some(third) => vec![third, second, last],
            None => vec![second, last],
        };
    }
    // Names, units, and a row of labels over blocks of columns.
    if let Some(third) = third
        && is_units_row(&cells(second))
    {
        return vec![third, second, last];
    }
    // A row of group names above names that would not be told apart without it.
    if labels_over(second, &cells(last)) {
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
    cells
        .into_iter()
        .map(|cell| clean(cell).into_owned())
        .collect()
}

pub(crate) fn fill_header(layout: &mut Layout, header: &Header<'_>, columns: &Columns) {
    let row = |at: Option<usize>| -> Vec<String> {
        at.and_then(|at| header.lines.get(at))
            .map(|line| heading_cells(line.text, layout.delimiter, columns.width))
            .unwrap_or_default()
    };
    let (mut names, mut groups, mut units) =
        (row(header.names), row(header.groups), row(header.units));
    if let Some(line) = header.commented.and_then(|at| header.lines.get(at)) {
        let mark = layout.comment.clone().unwrap_or_default();
        names = heading_cells(
            without_mark(line.text, &mark),
            layout.delimiter,
            columns.width,
        );
        layout.names_line = Some(line.number);
    }
    let width = columns.width.max(names.len());
    names.resize(width, String::new());
    groups.resize(width, String::new());
    units.resize(width, String::new());
    repeat(&mut names, &mut units, &groups);
    // A group stands over its first column only.
    for at in 1..width {
        if groups[at].is_empty() {
            let before = groups[at - 1].clone();
            groups[at].clone_from(&before);
        }
    }
    if let Some(line) = header.names.and_then(|at| header.lines.get(at)) {
        layout.names_line = Some(line.number);
    }
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
        let rest: Vec<_> = cells.collect();
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
    Some((clean(key).into_owned(), clean(value).into_owned()))
}
