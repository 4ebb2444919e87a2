//! A recording as the file has it: numbers of the file, traceable to line and column.

use super::{Finding, Input, Numbering, Readings};
use crate::rig::{ChannelQuantity, ClockSpec};
use crate::units::Unit;
use serde::Serialize;

/// What the reader understood of a file, for `inspect`, results and report.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct ReadSummary {
    /// Format name in `read::FORMATS`.
    pub format: String,
    /// Text encoding.
    pub encoding: String,
    /// Delimiter in words (`,`, `;`, `tab`, `|`, `whitespace`).
    pub delimiter: String,
    /// Decimal mark.
    pub decimal: String,
    /// Thousands mark, empty if none.
    pub thousands: String,
    /// Lines before the header.
    pub skip_lines: usize,
    /// Header rows (names, units).
    pub header_rows: usize,
    /// Column names as in the file.
    pub columns: Vec<String>,
    /// Units as in the file, empty where none.
    pub units: Vec<String>,
    /// `key: value` lines before the header.
    pub preamble: Vec<(String, String)>,
    /// Data rows.
    pub rows: usize,
}

/// One channel as numbers of the file.
#[derive(Debug, Clone, PartialEq)]
pub struct RawChannel {
    /// Position of the channel in `rig.channels`.
    pub channel: usize,
    /// What it measures.
    pub quantity: ChannelQuantity,
    /// Column name as in the file (or its number).
    pub column: String,
    /// Unit of the numbers (after the channel's calibration, if it has one).
    pub unit: &'static Unit,
    /// The numbers of the file, not yet converted; NaN where a cell is missing or not a number. As many as `line`.
    pub values: Readings,
}

/// A recording read, not yet calibrated. All vectors have one entry a data row, in the order of the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RawRecording {
    /// File, relative to the study folder.
    pub file: String,
    /// Elapsed time, s, as the declared clock gives it, counted from the first readable time stamp; NaN where unreadable.
    /// Not sorted: repeats, steps back and restarts are left for the calibrate stage to judge.
    pub time_s: Readings,
    /// Line of each data row, counted from 1.
    pub line: Numbering,
    /// Channels in the order of the rig.
    pub channels: Vec<RawChannel>,
    /// Data rows before which the logger began again with a new header.
    pub restarts: Vec<usize>,
    /// First data row behind a later header that names the columns otherwise, and the line of that header.
    pub other_header: Option<(usize, u64)>,
    /// Absolute time of the first sample, if the clock is absolute (ISO 8601).
    pub started_at: Option<String>,
    /// What the reader understood.
    pub summary: ReadSummary,
    /// What was doubtful while reading.
    pub findings: Vec<Finding>,
    /// Fingerprint of the bytes it was read from; `None` where they came from no file.
    pub input: Option<Input>,
    /// The clock as declared, or as sniffed where the rig says `auto`.
    pub clock: ClockSpec,
}
