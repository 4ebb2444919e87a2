//! What a file holds beside one run of readings: summary rows at its end, and further acquisitions.

use super::layout::Layout;
use super::number::{Cell, read_cell};
use super::part::Part;
use super::split::{Lines, line_end, split};
use super::stamp_sniff::looks_like_stamp;
use crate::recording::{Finding, Place, RawRecording};
use rayon::prelude::*;

/// Lines at the end among which a footer is looked for; statistics of a hundred channels fit.
const LONGEST_FOOTER: usize = 128;
/// Bytes at the end among which a footer is looked for.
const FOOTER_BYTES: usize = 1 << 16;
/// First words of summary rows, in the languages of the labs met (common practice, no source).
const SUMMARY_WORDS: &[&str] = &[
    "min",
    "max",
    "mean",
    "avg",
    "average",
    "minimum",
    "maximum",
    "sum",
    "total",
    "std",
    "stdev",
    "std dev",
    "sd",
    "rms",
    "median",
    "range",
    "count",
    "mittelwert",
    "mittel",
    "summe",
    "moyenne",
    "moyen",
    "somme",
    "promedio",
    "media",
    "somma",
    "gemiddelde",
    "peak",
    "statistics",
    "statistik",
    "summary",
    "end",
];
/// A new acquisition begins at a time no later than this share of the span before it.
const NEAR_START: f64 = 0.1;
/// Rows behind a step back that must stay behind for it to be a new acquisition, and not a row out of order.
const STAYS: usize = 3;

/// So many rows of data show whether a column holds a status or a remark.
const STATUS_ROWS: usize = 5;
/// Fewest rows of an acquisition on average: a clock that begins anew more often runs backwards, or is noise.
const SHORTEST: usize = 4;

/// Summary rows at the end of a text.
pub(crate) struct Footer {
    /// Byte behind the last line that may be a reading.
    pub cut: usize,
    /// Byte at which the first summary row starts.
    start: usize,
    rows: usize,
    first: String,
}

impl Footer {
    /// Summary rows at the end of a text, which hold numbers but no readings. `from` is the byte from which on lines may be
    /// readings, and begins a line.
    ///
    /// A summary row begins with a word of statistics, or has words where every reading has numbers. Only unbroken runs at the
    /// very end with at least one word of statistics are taken away; a finding says which.
    pub fn of(layout: &Layout, sample: &[Vec<&str>], text: &str, from: usize) -> Option<Self> {
        let mut near = text
            .len()
            .saturating_sub(FOOTER_BYTES)
            .max(from)
            .min(text.len());
        while !text.is_char_boundary(near) {
            near += 1;
        }
        // A line cut by where the search begins is none.
        let lines: Vec<_> = Lines::from(text, near, 0)
            .skip(usize::from(near > from))
            .collect();
        let mut cells = Vec::new();
        let (mut start, mut cut, mut rows, mut summaries) = (None, text.len(), 0_usize, 0_usize);
        for line in lines.iter().rev().take(LONGEST_FOOTER) {
            if layout.is_skipped(line.text) {
                continue;
            }
            split(line.text, layout.delimiter, &mut cells);
            let filled: Vec<&str> = cells
                .iter()
                .map(|cell| cell.trim())
                .filter(|cell| !cell.is_empty())
                .collect();
            let summary = filled.iter().any(|cell| is_summary_word(cell));
            let first_is_word = filled.first().is_some_and(|cell| is_word(cell, layout));
            // Blank cells between the readings and the summary.
            if filled.is_empty() {
                cut = line.start;
                continue;
            }
            // A status or a remark may stand first in every row; then the word says nothing.
            if !first_is_word || first_is_status(layout, sample, &cells) {
                break;
            }
            summaries += usize::from(summary);
            rows += 1;
            start = Some((line.start, line.text));
            cut = line.start;
        }
        let (start, first) = start?;
        // The data themselves are no footer.
        if summaries == 0 || cut <= from {
            return None;
        }
        let first = first.replace(super::sheet::CELL_MARK, " ");
        Some(Self {
            cut,
            start,
            rows,
            first: first.trim().chars().take(40).collect(),
        })
    }

    /// Lines between the last that may be a reading and the first summary row.
    pub fn lines_before(&self, text: &str) -> u64 {
        text.get(self.cut..self.start)
            .map_or(0, |between| Lines::new(between).count() as u64)
    }

    /// What is said of it, with the line of the first summary row.
    pub fn finding(&self, shown_as: &str, line: u64) -> Finding {
        let (rows, first) = (self.rows, &self.first);
        Finding::note(
            "footer-left-out",
            format!("{rows} summary line(s) at the end are no readings and were left out; the first reads \"{first}\""),
        )
        .at(Place::line(shown_as, line))
    }
}

/// The text without summary rows at its end; a finding says which.
pub(crate) fn without_footer<'t>(
    layout: &Layout,
    text: &'t str,
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> &'t str {
    let found = Footer::of(layout, &layout.sample(text), text, layout.data.0);
    let Some(footer) = found else {
        return text;
    };
    let before = text.get(layout.data.0..footer.start).unwrap_or_default();
    let end = line_end(text);
    let lines = memchr::memchr_iter(end, before.as_bytes()).count() as u64;
    findings.push(footer.finding(shown_as, layout.data.1 + lines));
    text.get(..footer.cut).unwrap_or(text)
}

fn is_summary_word(cell: &str) -> bool {
    let word = cell
        .trim_matches(|c: char| !c.is_alphanumeric())
        .to_lowercase();
    SUMMARY_WORDS.contains(&word.as_str())
}

/// True for a cell that is neither number nor stamp nor a word for "no reading".
fn is_word(cell: &str, layout: &Layout) -> bool {
    read_cell(cell, layout.marks) == Cell::Text && !looks_like_stamp(cell)
}

/// True where the first filled cell of these is in a column that holds words in the first row of data too.
fn first_is_status(layout: &Layout, sample: &[Vec<&str>], cells: &[&str]) -> bool {
    let Some(at) = cells.iter().position(|cell| !cell.trim().is_empty()) else {
        return false;
    };
    sample
        .iter()
        .take(STATUS_ROWS)
        .filter_map(|row| row.get(at))
        .any(|cell| is_word(cell, layout))
}

/// Finds the acquisitions of a recording and keeps the one that is meant; without a choice all rows stay, and a doubt says so.
pub(crate) fn choose(recording: &mut RawRecording, part: Option<&Part>) {
    let mut starts = starts(recording);
    let wanted = match part {
        Some(Part::Acquisition(number)) => Some(*number),
        _ => None,
    };
    if let Some((row, line)) = recording.other_header {
        other_header(recording, row, line, &starts, wanted);
        starts.retain(|start| *start == 0 || *start < recording.time_s.len());
    }
    let Some(wanted) = wanted else {
        if starts.len() > 1 {
            tell(recording, &starts);
        }
        return;
    };
    let Some(first) = wanted.checked_sub(1).and_then(|at| starts.get(at)).copied() else {
        recording.findings.push(
            Finding::error(
                "acquisition-missing",
                format!(
                    "acquisition {wanted} is asked for, but {} holds {}",
                    recording.file,
                    starts.len()
                ),
            )
            .at(Place::file(&recording.file))
            .help(format!(
                "name one from 1 to {} behind the #, or leave the # out",
                starts.len()
            )),
        );
        return;
    };
    let end = starts
        .get(wanted)
        .copied()
        .unwrap_or(recording.time_s.len());
    keep(recording, first, end);
    // That the logger began anew before or behind it is of no interest any more.
    let rows = recording.line.get(0)..=recording.line.last();
    recording.findings.retain(|finding| {
        finding.code != "logger-restart"
            || finding.line > *rows.start() && finding.line <= *rows.end()
    });
    recording.findings.push(
        Finding::note(
            "acquisition-chosen",
            format!(
                "acquisition {wanted} of {} was read: {} rows",
                starts.len(),
                recording.time_s.len()
            ),
        )
        .at(Place::line(
            &recording.file,
            recording.line.get(0).unwrap_or(1),
        )),
    );
}

/// Rows looked at by one thread at a time.
const PIECE: usize = 1 << 15;

/// Rows at which an acquisition begins: the first, those behind a header that stands again or names the columns otherwise, those whose clock begins anew.
fn starts(recording: &RawRecording) -> Vec<usize> {
    let time = &recording.time_s;
    // A clock that never falls does not begin anew; nearly every recording is done here.
    let pieces = time.len().div_ceil(PIECE);
    let rises = |piece: usize| {
        let from = piece * PIECE;
        time.iter()
            .skip(from)
            .zip(time.iter().skip(from + 1))
            .take(PIECE)
            .all(|(now, next)| next >= now)
    };
    if recording.other_header.is_none()
        && recording.restarts.is_empty()
        && (0..pieces).into_par_iter().all(rises)
    {
        return vec![0];
    }
    let mut starts = vec![0];
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for (row, now) in time.iter().copied().enumerate() {
        let other = recording.other_header.is_some_and(|(at, _)| at == row);
        let again = other || recording.restarts.binary_search(&row).is_ok();
        let anew = now < high - (high - low) * (1.0 - NEAR_START)
            && high > low
            && time
                .iter()
                .skip(row)
                .take(STAYS)
                .all(|later| !later.is_finite() || *later <= high);
        if row > 0 && (again || anew) {
            starts.push(row);
            (low, high) = (f64::INFINITY, f64::NEG_INFINITY);
        }
        if now.is_finite() {
            low = low.min(now);
            high = high.max(now);
        }
    }
    if starts.len() > 1 + time.len() / SHORTEST {
        return vec![0];
    }
    starts
}

fn tell(recording: &mut RawRecording, starts: &[usize]) {
    const SHOWN: usize = 8;
    let mut lines: Vec<String> = starts
        .iter()
        .take(SHOWN)
        .filter_map(|row| recording.line.get(*row))
        .map(|line| line.to_string())
        .collect();
    if starts.len() > SHOWN {
        lines.push(format!("and {} more", starts.len() - SHOWN));
    }
    let second = starts
        .get(1)
        .and_then(|row| recording.line.get(*row))
        .unwrap_or(1);
    let file = recording.file.clone();
    recording.findings.push(
        Finding::doubt(
            "several-acquisitions",
            format!(
                "the file holds {} acquisitions, which begin in lines {}; they were read one behind the other as one recording",
                starts.len(),
                lines.join(", ")
            ),
        )
        .at(Place::line(&file, second))
        .help(format!(
            "if they are runs of their own, name one in the trace column of runs.csv: {file}#1 to {file}#{}",
            starts.len()
        )),
    );
}

/// A later header that names the columns otherwise, at `line` before `row`: the rows behind it would be read wrongly.
fn other_header(
    recording: &mut RawRecording,
    row: usize,
    line: u64,
    starts: &[usize],
    wanted: Option<usize>,
) {
    let place = Place::line(&recording.file, line);
    let help = "put every acquisition into a file of its own";
    let behind = starts.iter().position(|start| *start == row);
    // Nothing stands before it, or what is asked for stands behind it.
    if row == 0 || wanted.is_some_and(|wanted| behind.is_some_and(|at| wanted > at)) {
        recording.findings.push(
            Finding::error(
                "header-differs",
                format!("line {line} names other columns than the first header, so what follows cannot be read by it"),
            )
            .at(place)
            .help(help),
        );
        return;
    }
    keep(recording, 0, row);
    if wanted.is_none() {
        recording.findings.push(
            Finding::doubt(
                "header-differs",
                format!("line {line} names other columns than the first header; everything from there on was left out"),
            )
            .at(place)
            .help(help),
        );
    }
}

/// Keeps the rows from `first` to before `end`, with the clock counted from the first of them.
fn keep(recording: &mut RawRecording, first: usize, end: usize) {
    recording.time_s.keep(first, end);
    recording.line.keep(first, end);
    for channel in &mut recording.channels {
        channel.values.keep(first, end);
    }
    recording.restarts = recording
        .restarts
        .iter()
        .filter(|row| **row > first && **row < end)
        .map(|row| row - first)
        .collect();
    let zero = recording
        .time_s
        .iter()
        .copied()
        .find(|time| time.is_finite());
    if let Some(zero) = zero.filter(|_| first > 0) {
        for time in &mut recording.time_s {
            *time -= zero;
        }
        // What the first acquisition began at says nothing of this one.
        recording.started_at = None;
    }
}
