//! What a sample of lines shows: the delimiter, the marks of numbers, and which columns hold readings.

use super::number::{Cell, MarkVotes, Marks, read_cell};
use super::split::split;
use super::stamp_sniff::looks_like_stamp;
use crate::rig::DialectSpec;

/// Delimiters tried, the surest first, with a handicap: blanks also stand inside dates, commas inside numbers.
const DELIMITERS: &[(char, f64)] = &[
    ('\u{1f}', 1.0),
    ('\t', 1.0),
    (';', 1.0),
    ('|', 1.0),
    (',', 0.97),
    (' ', 0.85),
];
/// A column is one of numbers from this share of readable cells.
const NUMERIC_SHARE: f64 = 0.6;

/// The delimiter under which most lines have the same number of readable cells, with the marks that go with it.
pub(crate) fn choose_delimiter(sample: &[&str], spec: &DialectSpec) -> (char, Marks, bool) {
    // Nothing is left to be seen.
    if let (Some(delimiter), Some(decimal), Some(thousands)) =
        (spec.delimiter, spec.decimal, spec.thousands)
    {
        return (delimiter, Marks { decimal, thousands }, false);
    }
    let mut best = (f64::NEG_INFINITY, ',', Marks::POINT, false);
    let mut one_column = false;
    for (delimiter, handicap) in DELIMITERS {
        if spec
            .delimiter
            .is_some_and(|declared| declared != *delimiter)
        {
            continue;
        }
        // Any delimiter that stands nowhere gives the same one column.
        let parts = |line: &&str| match delimiter {
            ' ' => line.contains(char::is_whitespace),
            mark => line.contains(*mark),
        };
        if !sample.iter().any(parts) && std::mem::replace(&mut one_column, true) {
            continue;
        }
        let every = cells_of(sample, *delimiter);
        // The first quarter may be a preamble: it tells nothing of the delimiter, but its first row may settle the marks.
        let rows = &every[every.len() / 4..];
        let width = usual_width(rows);
        let mut votes = MarkVotes::default();
        for cell in every.iter().filter(|row| row.len() == width).flatten() {
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
        for row in rows {
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

/// The cells of every line.
fn cells_of<'t>(lines: &[&'t str], delimiter: char) -> Vec<Vec<&'t str>> {
    let mut width = 0;
    let cells = |line: &&'t str| {
        let mut cells = Vec::with_capacity(width);
        split(line, delimiter, &mut cells);
        // The next line has room for as many.
        width = cells.len();
        cells
    };
    lines.iter().map(cells).collect()
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
pub(crate) struct Columns {
    /// Usual number of cells.
    pub width: usize,
    numeric: Vec<bool>,
}

impl Columns {
    /// Columns of the sample.
    pub fn of(sample: &[&str], delimiter: char, marks: Marks) -> Self {
        let rows = cells_of(&sample[sample.len() / 4..], delimiter);
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
    pub fn is_data(&self, cells: &[&str], marks: Marks) -> bool {
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
