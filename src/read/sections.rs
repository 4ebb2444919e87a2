//! What a file holds beside one run of readings: summary rows at its end, and further acquisitions.

use super::layout::Layout;
use super::number::{Cell, read_cell};
use super::part::Part;
use super::split::{Lines, split};
use super::stamp_sniff::looks_like_stamp;
use crate::recording::{Finding, Place, RawRecording};

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

/// The text without summary rows at its end, which hold numbers but no readings.
///
/// A summary row begins with a word of statistics, or has words where every reading has numbers. Only unbroken runs at the
/// very end with at least one word of statistics are taken away; a finding says which.
pub(crate) fn without_footer<'t>(
    layout: &Layout,
    text: &'t str,
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> &'t str {
    let mut from = text
        .len()
        .saturating_sub(FOOTER_BYTES)
        .max(layout.data.0)
        .min(text.len());
    while !text.is_char_boundary(from) {
        from += 1;
    }
    let whole = from == layout.data.0;
    let lines: Vec<_> = Lines::from(text, from, 0)
        .skip(usize::from(!whole))
        .collect();
    let sample = layout.sample(text);
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
        if !first_is_word || first_is_status(layout, &sample, &cells) {
            break;
        }
        summaries += usize::from(summary);
        rows += 1;
        start = Some((line.start, line.text));
        cut = line.start;
    }
    let (Some((start, first)), true) = (start, summaries > 0) else {
        return text;
    };
    // The data themselves are no footer.
    if cut <= layout.data.0 {
        return text;
    }
    let number = layout.data.1 + Lines::from(&text[layout.data.0..start], 0, 0).count() as u64;
    let shown: String = first
        .replace(super::sheet::CELL_MARK, " ")
        .trim()
        .chars()
        .take(40)
        .collect();
    findings.push(
        Finding::note(
            "footer-left-out",
            format!("{rows} summary line(s) at the end are no readings and were left out; the first reads \"{shown}\""),
        )
        .at(Place::line(shown_as, number)),
    );
    &text[..cut]
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
        .take(5)
        .filter_map(|row| row.get(at))
        .any(|cell| is_word(cell, layout))
}

/// Finds the acquisitions of a recording and keeps the one that is meant; without a choice all rows stay, and a doubt says so.
pub(crate) fn choose(
    recording: &mut RawRecording,
    layout: &Layout,
    text: &str,
    part: Option<&Part>,
) {
    let mut starts = starts(recording);
    let wanted = match part {
        Some(Part::Acquisition(number)) => Some(*number),
        _ => None,
    };
    if starts.len() > 1 {
        other_header(recording, layout, text, &starts, wanted);
        starts.retain(|row| *row < recording.time_s.len().max(1));
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
    let rows = recording.line.first().copied()..=recording.line.last().copied();
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
            recording.line.first().copied().unwrap_or(1),
        )),
    );
}

/// Rows at which an acquisition begins: the first, those behind a header that stands again, those whose clock begins anew.
fn starts(recording: &RawRecording) -> Vec<usize> {
    let time = &recording.time_s;
    let mut starts = vec![0];
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for (row, now) in time.iter().copied().enumerate() {
        let again = recording.restarts.binary_search(&row).is_ok();
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
    // A clock that runs backwards, or is noise, begins anew all the time.
    if starts.len() > 1 + time.len() / 4 {
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
        .map(u64::to_string)
        .collect();
    if starts.len() > SHOWN {
        lines.push(format!("and {} more", starts.len() - SHOWN));
    }
    let second = starts
        .get(1)
        .and_then(|row| recording.line.get(*row))
        .copied()
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

/// A later header that names the columns otherwise: its rows would be read wrongly.
fn other_header(
    recording: &mut RawRecording,
    layout: &Layout,
    text: &str,
    starts: &[usize],
    wanted: Option<usize>,
) {
    let names: Vec<String> = layout.names.iter().map(|name| plain(name)).collect();
    if names.iter().all(String::is_empty) {
        return;
    }
    // Lines between the last row of one acquisition and the first of the next.
    let between: Vec<(u64, u64)> = starts
        .iter()
        .skip(1)
        .filter_map(|row| {
            let before = recording.line.get(row.checked_sub(1)?)?;
            Some((*before, *recording.line.get(*row)?))
        })
        .filter(|(before, behind)| behind - before > 1)
        .collect();
    let mut cells = Vec::new();
    let mut at = 0;
    let mut found = None;
    for line in Lines::from(text, layout.data.0, layout.data.1) {
        while between.get(at).is_some_and(|(_, end)| line.number >= *end) {
            at += 1;
        }
        let Some((begin, _)) = between.get(at) else {
            break;
        };
        if line.number <= *begin || layout.is_skipped(line.text) {
            continue;
        }
        split(line.text, layout.delimiter, &mut cells);
        let theirs: Vec<String> = cells.iter().map(|cell| plain(cell)).collect();
        let shared = theirs
            .iter()
            .filter(|name| !name.is_empty() && names.contains(name))
            .count();
        if shared >= 2
            && theirs.len() <= names.len() + 1
            && theirs.iter().zip(&names).any(|(a, b)| a != b)
        {
            found = Some((line.number, at + 1));
            break;
        }
    }
    let Some((line, before)) = found else {
        return;
    };
    let place = Place::line(&recording.file, line);
    let help = "put every acquisition into a file of its own";
    match (wanted, starts.get(before).copied()) {
        (Some(wanted), _) if wanted <= before => {}
        (Some(_), _) => recording.findings.push(
            Finding::error(
                "header-differs",
                format!("line {line} names other columns than the first header, so what follows cannot be read by it"),
            )
            .at(place)
            .help(help),
        ),
        (None, Some(row)) => {
            keep(recording, 0, row);
            recording.findings.push(
                Finding::doubt(
                    "header-differs",
                    format!("line {line} names other columns than the first header; everything from there on was left out"),
                )
                .at(place)
                .help(help),
            );
        }
        (None, None) => {}
    }
}

fn plain(name: &str) -> String {
    name.trim().trim_matches('"').to_lowercase()
}

/// Keeps the rows from `first` to before `end`, with the clock counted from the first of them.
fn keep(recording: &mut RawRecording, first: usize, end: usize) {
    let cut = |values: &mut Vec<f64>| {
        values.truncate(end);
        values.drain(..first.min(values.len()));
    };
    cut(&mut recording.time_s);
    recording.line.truncate(end);
    recording.line.drain(..first.min(recording.line.len()));
    for channel in &mut recording.channels {
        cut(&mut channel.values);
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
