//! Time cells as seconds since the first stamp of the file.
//!
//! Each row is read by itself, so that parts of a file can be read side by side; what depends on the rows before (midnight, the
//! count of rows) is added once all are there.

use super::clock::{Clock, Kind};
use super::number::{Cell, Marks, read_cell};
use super::plain::Plain;
use super::stamp::{DAY, SECOND, read_iso, to_iso};
use crate::rig::ClockSpec;

/// Beyond this a plain number of a clock is split into whole and fraction, so that large stamps keep their fraction.
const LARGE: f64 = 1e6;
/// Digits of the largest whole part, so that the difference of two still is a 64-bit number.
const MOST_DIGITS: usize = 18;
/// A fall of the time of day by more than this is midnight, s.
const MIDNIGHT_S: f64 = 43_200.0;
/// Seconds of a day.
pub(super) const DAY_S: f64 = (DAY / SECOND) as f64;
/// 1970-01-01 as spreadsheets count days (from 1899-12-30).
const SERIAL_1970: f64 = 25_569.0;

/// Reads the time cells of one file.
#[derive(Debug, Clone)]
pub(crate) struct Ticker<'c> {
    clock: &'c Clock,
    marks: Marks,
    first: First,
    /// ISO text of the first stamp, where the clock is absolute.
    pub started_at: Option<String>,
}

/// The first stamp of the file.
#[derive(Debug, Clone, Copy)]
enum First {
    None,
    Number {
        value: f64,
        parts: Option<(i64, f64)>,
    },
    Nanos(i64),
}

impl<'c> Ticker<'c> {
    /// A ticker at the start of a file.
    pub fn new(clock: &'c Clock, marks: Marks) -> Self {
        Self {
            clock,
            marks,
            first: First::None,
            started_at: None,
        }
    }

    /// True until the first stamp was found; a clock that counts rows needs none.
    pub fn waits(&self) -> bool {
        matches!(self.first, First::None) && !matches!(self.clock.kind, Kind::Rate(_))
    }

    /// Takes a cell as the first stamp, if it is one.
    pub fn begin(&mut self, cell: &str) {
        self.first = match &self.clock.kind {
            Kind::Rate(_) => First::None,
            Kind::Number(_) => self.first_number(cell),
            Kind::Iso => self.first_stamp(read_iso(cell)),
            Kind::Stamp(format) => {
                self.first_stamp(format.read(cell).map(|stamp| (stamp.nanos(), false)))
            }
            Kind::OfDay(format) => format
                .read(cell)
                .map_or(First::None, |stamp| First::Nanos(stamp.of_day)),
        };
    }

    fn first_number(&mut self, cell: &str) -> First {
        let Cell::Number(value) = read_cell(cell, self.marks) else {
            return First::None;
        };
        match &self.clock.spec {
            ClockSpec::Epoch { unit, .. } => {
                self.started_at = to_iso((value * unit.factor * SECOND as f64) as i64, true);
            }
            ClockSpec::Serial { .. } => {
                // To the millisecond, which is all that a serial with nine digits keeps.
                let ms = ((value - SERIAL_1970) * DAY_S * 1e3).round();
                self.started_at = to_iso((ms as i64).saturating_mul(SECOND / 1000), false);
            }
            _ => {}
        }
        First::Number {
            value,
            parts: parts(cell, self.marks),
        }
    }

    fn first_stamp(&mut self, stamp: Option<(i64, bool)>) -> First {
        let Some((nanos, utc)) = stamp else {
            return First::None;
        };
        self.started_at = to_iso(nanos, utc);
        First::Nanos(nanos)
    }

    /// Seconds since the first stamp; NaN where the cell is no stamp of this clock, and for a clock that counts rows.
    pub fn read(&self, cell: &str) -> f64 {
        match (&self.clock.kind, self.first) {
            (
                Kind::Number(scale),
                First::Number {
                    value,
                    parts: first,
                },
            ) => {
                let Cell::Number(number) = read_cell(cell, self.marks) else {
                    return f64::NAN;
                };
                let here = || parts(cell, self.marks);
                scale.seconds(apart((value, first), number, here))
            }
            (Kind::Iso, First::Nanos(first)) => since(first, read_iso(cell).map(|stamp| stamp.0)),
            (Kind::Stamp(format), First::Nanos(first)) => {
                since(first, format.read(cell).map(super::stamp::Stamp::nanos))
            }
            (Kind::OfDay(format), First::Nanos(first)) => {
                since(first, format.read(cell).map(|stamp| stamp.of_day))
            }
            _ => f64::NAN,
        }
    }

    /// True where time cells are plain numbers.
    pub fn counts(&self) -> bool {
        matches!(self.clock.kind, Kind::Number(_))
    }

    /// The same for a cell already read as a plain number, of a clock that [counts](Self::counts).
    #[inline]
    pub fn seconds(&self, cell: Plain) -> f64 {
        let (Kind::Number(scale), First::Number { value, parts }) = (&self.clock.kind, self.first)
        else {
            return f64::NAN;
        };
        scale.seconds(apart((value, parts), cell.value(), || Some(cell.parts())))
    }

    /// Adds what the rows before decide: the count of rows, and the days after midnight.
    pub fn finish(&self, time_s: &mut [f64]) {
        match &self.clock.kind {
            Kind::Rate(rate) => {
                for (row, time) in time_s.iter_mut().enumerate() {
                    *time = row as f64 / rate;
                }
            }
            Kind::OfDay(_) => count_days(time_s),
            _ => {}
        }
    }
}

/// Difference of two numbers of a clock, from their parts where they are large.
#[inline]
fn apart(
    first: (f64, Option<(i64, f64)>),
    now: f64,
    parts: impl FnOnce() -> Option<(i64, f64)>,
) -> f64 {
    if first.0.abs() < LARGE {
        return now - first.0;
    }
    match (first.1, parts()) {
        (Some(first), Some(now)) => (now.0 - first.0) as f64 + (now.1 - first.1),
        _ => now - first.0,
    }
}

fn since(first: i64, nanos: Option<i64>) -> f64 {
    nanos.map_or(f64::NAN, |nanos| (nanos - first) as f64 / SECOND as f64)
}

/// The time of day falls back by a day at midnight.
fn count_days(time_s: &mut [f64]) {
    let (mut last, mut days) = (f64::NAN, 0.0);
    for time in time_s.iter_mut().filter(|time| time.is_finite()) {
        if *time + MIDNIGHT_S < last {
            days += 1.0;
        } else if days > 0.0 && *time - MIDNIGHT_S > last {
            // A row from before midnight written after one from behind it.
            days -= 1.0;
        }
        last = *time;
        *time += days * DAY_S;
    }
}

/// Whole part and fraction of a number as written, so that a large stamp keeps its fraction. `None` for numbers with an exponent
/// and from [`MOST_DIGITS`] on, where a fraction would mean nothing.
fn parts(cell: &str, marks: Marks) -> Option<(i64, f64)> {
    let text = cell.trim();
    if text.contains(['e', 'E']) {
        return None;
    }
    let (whole, fraction) = text.rsplit_once(marks.decimal).unwrap_or((text, ""));
    let digits: String = whole.chars().filter(char::is_ascii_digit).collect();
    if digits.len() > MOST_DIGITS {
        return None;
    }
    let whole: i64 = format!("0{digits}").parse().ok()?;
    let fraction: f64 = format!("0.{fraction}0").parse().ok()?;
    Some(if text.starts_with(['-', '\u{2212}']) {
        (-whole, -fraction)
    } else {
        (whole, fraction)
    })
}
