//! The clock of a recording: from stamps of any kind to seconds since the first one.

use super::clock_sniff::sniff;
use super::columns::{Picked, find, named};
use super::layout::Layout;
use super::number::{Cell, Marks, read_cell};
use super::stamp::{DAY, SECOND, StampFormat, read_iso, to_iso};
use crate::recording::{Finding, Place};
use crate::rig::{ClockSpec, ColumnRef};
use crate::units::{Dimension, Unit};

/// Seconds of a day.
const DAY_S: f64 = 86_400.0;
/// 1970-01-01 as spreadsheets count days (from 1899-12-30).
const SERIAL_1970: f64 = 25_569.0;
/// Beyond this a plain number of a clock is split into whole and fraction, so that large stamps keep their fraction.
const LARGE: f64 = 1e6;
/// A fall of the time of day by more than this is midnight.
const MIDNIGHT: i64 = DAY / 2;

/// A clock that can read cells.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Clock {
    /// The clock as the rig would declare it.
    pub spec: ClockSpec,
    /// Its column.
    pub column: Option<Picked>,
    kind: Kind,
}

#[derive(Debug, Clone, PartialEq)]
enum Kind {
    /// Numbers that are this many to a second (or so many seconds each).
    Number(Scale),
    Iso,
    Stamp(StampFormat),
    OfDay(StampFormat),
    Rate(f64),
}

/// Whole numbers divide exactly where a factor would not: 30 ms are 0.03 s.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Scale {
    Divide(f64),
    Multiply(f64),
}

impl Scale {
    fn of(unit: &Unit) -> Self {
        if unit.factor < 1.0 {
            Self::Divide((1.0 / unit.factor).round())
        } else {
            Self::Multiply(unit.factor)
        }
    }

    fn seconds(self, value: f64) -> f64 {
        match self {
            Self::Divide(by) => value / by,
            Self::Multiply(by) => value * by,
        }
    }
}

impl Clock {
    /// A clock that only counts rows.
    pub fn rate(rate_hz: f64) -> Self {
        Self {
            spec: ClockSpec::Rate { rate_hz },
            column: None,
            kind: Kind::Rate(rate_hz),
        }
    }

    /// What a cell of the clock's column should look like, in words.
    pub fn expects(&self) -> String {
        match &self.spec {
            ClockSpec::Relative { unit, .. } | ClockSpec::Epoch { unit, .. } => {
                format!("a number of {}", unit.symbol)
            }
            ClockSpec::Iso { .. } => "an ISO 8601 stamp".to_owned(),
            ClockSpec::Local { format, .. } | ClockSpec::TimeOfDay { format, .. } => format.clone(),
            ClockSpec::Serial { .. } => "a number of days".to_owned(),
            ClockSpec::Index { .. } | ClockSpec::Rate { .. } | ClockSpec::Auto => {
                "a number".to_owned()
            }
        }
    }

    /// The clock a rig declares, or the one the file itself tells.
    ///
    /// # Errors
    /// An error finding that says what to declare.
    pub fn resolve(
        spec: &ClockSpec,
        layout: &Layout,
        text: &str,
        taken: &[usize],
        shown_as: &str,
        findings: &mut Vec<Finding>,
    ) -> Result<Self, Finding> {
        let column = |column: &ColumnRef| find(layout, column, &[], taken, "time", shown_as);
        let stamps = |format: &str| {
            StampFormat::parse(format, &[]).map_err(|reason| {
                Finding::error("clock-format", format!("the format \"{format}\": {reason}"))
            })
        };
        let (column, kind) = match spec {
            ClockSpec::Relative { column: at, unit } | ClockSpec::Epoch { column: at, unit } => {
                let picked = column(at)?;
                check_unit(layout, &picked, unit, shown_as, findings);
                (Some(picked), Kind::Number(Scale::of(unit)))
            }
            ClockSpec::Serial { column: at } => {
                (Some(column(at)?), Kind::Number(Scale::Multiply(DAY_S)))
            }
            ClockSpec::Iso { column: at } => (Some(column(at)?), Kind::Iso),
            ClockSpec::Local { column: at, format } => {
                (Some(column(at)?), Kind::Stamp(stamps(format)?))
            }
            ClockSpec::TimeOfDay { column: at, format } => {
                (Some(column(at)?), Kind::OfDay(stamps(format)?))
            }
            ClockSpec::Index {
                column: at,
                rate_hz,
            } => (Some(column(at)?), Kind::Number(Scale::Divide(*rate_hz))),
            ClockSpec::Rate { rate_hz } => (None, Kind::Rate(*rate_hz)),
            ClockSpec::Auto => {
                let found = sniff(layout, text, taken, shown_as, findings)?;
                return Self::resolve(&found, layout, text, taken, shown_as, findings);
            }
        };
        Ok(Self {
            spec: spec.clone(),
            column,
            kind,
        })
    }
}

/// A time unit in the header that is not the declared one is worth a word.
fn check_unit(
    layout: &Layout,
    picked: &Picked,
    unit: &Unit,
    shown_as: &str,
    findings: &mut Vec<Finding>,
) {
    let (_, stated) = named(layout, picked.at);
    if let Some(stated) = stated
        && stated.dimension == Dimension::Time
        && stated.factor != unit.factor
    {
        findings.push(
            Finding::doubt(
                "unit-differs",
                format!(
                    "the rig declares the time in {}, but the header of the file says {}; the rig was followed",
                    unit.symbol, stated.symbol
                ),
            )
            .at(Place {
                file: Some(shown_as.to_owned()),
                line: layout.names_line,
                column: Some(picked.name.clone()),
            }),
        );
    }
}

/// Turns the cells of one file into seconds since the first readable stamp.
#[derive(Debug, Clone)]
pub(crate) struct Ticker<'c> {
    clock: &'c Clock,
    marks: Marks,
    first_number: Option<f64>,
    first_whole: i64,
    first_fraction: f64,
    first_nanos: Option<i64>,
    last_of_day: i64,
    days: i64,
    rows: usize,
    /// ISO text of the first stamp, where the clock is absolute.
    pub started_at: Option<String>,
}

impl<'c> Ticker<'c> {
    /// A ticker at the start of a file.
    pub fn new(clock: &'c Clock, marks: Marks) -> Self {
        Self {
            clock,
            marks,
            first_number: None,
            first_whole: 0,
            first_fraction: 0.0,
            first_nanos: None,
            last_of_day: i64::MIN,
            days: 0,
            rows: 0,
            started_at: None,
        }
    }

    /// Seconds of the next row; NaN where the cell is no stamp of this clock.
    pub fn read(&mut self, cell: &str) -> f64 {
        let seconds = match &self.clock.kind {
            Kind::Rate(rate) => self.rows as f64 / rate,
            Kind::Number(scale) => self
                .number(cell)
                .map_or(f64::NAN, |value| scale.seconds(value)),
            Kind::Iso => self.stamp(read_iso(cell)),
            Kind::Stamp(format) => {
                self.stamp(format.read(cell).map(|stamp| (stamp.nanos(), false)))
            }
            Kind::OfDay(format) => {
                let of_day = format.read(cell).map(|stamp| stamp.of_day);
                self.time_of_day(of_day)
            }
        };
        self.rows += 1;
        seconds
    }

    /// Counts a row in that turned out to be none.
    pub fn take_back(&mut self) {
        self.rows = self.rows.saturating_sub(1);
    }

    fn number(&mut self, cell: &str) -> Option<f64> {
        let Cell::Number(value) = read_cell(cell, self.marks) else {
            return None;
        };
        let Some(first) = self.first_number else {
            self.first_number = Some(value);
            (self.first_whole, self.first_fraction) = parts(cell, self.marks).unwrap_or((0, value));
            if let ClockSpec::Epoch { unit, .. } = &self.clock.spec {
                self.started_at = to_iso((value * unit.factor * SECOND as f64) as i64, true);
            }
            if let ClockSpec::Serial { .. } = &self.clock.spec {
                // To the millisecond, which is all that a serial with nine digits keeps.
                let ms = ((value - SERIAL_1970) * DAY_S * 1e3).round();
                self.started_at = to_iso((ms as i64).saturating_mul(SECOND / 1000), false);
            }
            return Some(0.0);
        };
        if first.abs() < LARGE {
            return Some(value - first);
        }
        let (whole, fraction) = parts(cell, self.marks)?;
        Some((whole - self.first_whole) as f64 + (fraction - self.first_fraction))
    }

    fn stamp(&mut self, stamp: Option<(i64, bool)>) -> f64 {
        let Some((nanos, utc)) = stamp else {
            return f64::NAN;
        };
        let first = *self.first_nanos.get_or_insert_with(|| {
            self.started_at = to_iso(nanos, utc);
            nanos
        });
        (nanos - first) as f64 / SECOND as f64
    }

    fn time_of_day(&mut self, of_day: Option<i64>) -> f64 {
        let Some(of_day) = of_day else {
            return f64::NAN;
        };
        let first = *self.first_nanos.get_or_insert(of_day);
        if self.last_of_day != i64::MIN && of_day + MIDNIGHT < self.last_of_day {
            self.days += 1;
        } else if self.last_of_day != i64::MIN
            && self.days > 0
            && of_day - MIDNIGHT > self.last_of_day
        {
            // A row from before midnight written after one from behind it.
            self.days -= 1;
        }
        self.last_of_day = of_day;
        (of_day + self.days * DAY - first) as f64 / SECOND as f64
    }
}

/// Whole part and fraction of a number as written, so that a large stamp keeps its fraction.
fn parts(cell: &str, marks: Marks) -> Option<(i64, f64)> {
    let text = cell.trim();
    if text.contains(['e', 'E']) {
        let Cell::Number(value) = read_cell(text, marks) else {
            return None;
        };
        return Some((value.trunc() as i64, value.fract()));
    }
    let (whole, fraction) = text.split_once(marks.decimal).unwrap_or((text, ""));
    let digits: String = whole.chars().filter(char::is_ascii_digit).collect();
    let fraction: f64 = format!("0.{fraction}0").parse().ok()?;
    let whole_number: i64 = digits.parse().ok()?;
    Some(if whole.starts_with('-') {
        (-whole_number, -fraction)
    } else {
        (whole_number, fraction)
    })
}
