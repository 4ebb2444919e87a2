//! The reader held against the judge on one text.

use super::judge::{Dialect, Row};
use hooptrace::read::trace_from_bytes;
use hooptrace::recording::{Finding, RawRecording};
use hooptrace::rig::Rig;

/// What came out of a comparison; where the two differ it panics.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Not for the judge.
    OutOfScope,
    /// Refused, and the judge would not have it either or cannot tell.
    Refused,
    /// So many rows, equal to the last bit.
    Equal(usize),
}

/// Reads a text both ways. Lines, times and values must be equal to the last bit; where the reader refuses it, the judge must
/// have a reason to.
///
/// # Panics
/// Where the two differ.
pub fn compare(dialect: &Dialect, rig: &Rig, bytes: &[u8]) -> Verdict {
    judged(
        dialect,
        bytes,
        trace_from_bytes(bytes.to_vec(), "t.csv", rig),
    )
}

/// Holds what the reader made of a text against what the judge makes of it.
///
/// # Panics
/// Where the two differ.
pub fn judged(
    dialect: &Dialect,
    bytes: &[u8],
    read: Result<RawRecording, Vec<Finding>>,
) -> Verdict {
    let text = std::str::from_utf8(bytes).ok();
    let Some(text) = text.filter(|text| dialect.in_scope(text)) else {
        return Verdict::OutOfScope;
    };
    let width = dialect.width(text);
    let recording = match read {
        Ok(recording) => recording,
        Err(findings) => {
            if let Some(width) = width {
                let rows = dialect.read(text, width);
                assert!(
                    no_use(dialect, &rows, width),
                    "{} rows refused: {findings:?}",
                    rows.len()
                );
            }
            return Verdict::Refused;
        }
    };
    // Beyond its sample the judge takes the reader's word for the number of columns.
    let seen = recording.summary.columns.len();
    assert!(
        width.is_none_or(|width| width == seen),
        "{width:?} columns, not {seen}"
    );
    let rows = dialect.read(text, seen);
    assert!(!no_use(dialect, &rows, seen), "read what is of no use");
    hold_equal(dialect, &recording, &rows);
    Verdict::Equal(rows.len())
}

/// No rows, no time in any, or a column or the pressure missing altogether.
fn no_use(dialect: &Dialect, rows: &[Row], width: usize) -> bool {
    let vital = dialect
        .time_column
        .into_iter()
        .chain(dialect.channels.first().copied());
    vital.into_iter().any(|column| column >= width)
        || rows.iter().all(|row| row.time_s.is_nan())
        || rows
            .iter()
            .all(|row| row.values.first().is_none_or(|value| value.is_nan()))
}

fn hold_equal(dialect: &Dialect, recording: &RawRecording, rows: &[Row]) {
    let lines: Vec<u64> = rows.iter().map(|row| row.line).collect();
    let read: Vec<u64> = recording.line.iter().collect();
    assert_eq!(read, lines, "rows on these lines");
    for (row, time) in rows.iter().zip(&recording.time_s) {
        assert!(
            same(*time, row.time_s),
            "line {}: time {time:?}, not {:?}",
            row.line,
            row.time_s
        );
    }
    assert_eq!(recording.time_s.len(), rows.len());
    for channel in 0..dialect.channels.len() {
        let read = recording
            .channels
            .iter()
            .find(|read| read.channel == channel);
        // A channel without any reading is left out.
        let Some(read) = read else {
            assert!(
                rows.iter().all(|row| row.values[channel].is_nan()),
                "channel {channel} is missing"
            );
            continue;
        };
        assert_eq!(read.values.len(), rows.len());
        for (row, value) in rows.iter().zip(&read.values) {
            let judged = row.values[channel];
            assert!(
                same(*value, judged),
                "line {}: channel {channel} {value:?}, not {judged:?}",
                row.line
            );
        }
    }
}

fn same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits() || a.is_nan() && b.is_nan()
}
