//! The clock of a recording: from stamps of any kind to seconds since the first one.

use super::columns::{Picked, find, label, missing, named, words};
use super::layout::Layout;
use super::number::{Cell, Marks, read_cell};
use super::stamp::{DAY, SECOND, StampFormat, read_iso, to_iso};
use super::stamp_sniff::{StampKind, stamp_kind};
use crate::recording::{Finding, Place};
use crate::rig::{ClockSpec, ColumnRef};
use crate::units::{Dimension, Unit, find as find_unit};

/// Words that name a time column, in the languages of the labs met (common practice, no source).
const TIME_WORDS: &[&str] = &[
    "time",
    "zeit",
    "temps",
    "tijd",
    "tempo",
    "tiempo",
    "tid",
    "elapsed",
    "timestamp",
    "zeitstempel",
    "datetime",
    "date",
    "datum",
    "clock",
    "uhrzeit",
    "horodatage",
    "x_value",
];
/// Names of a column that counts samples.
const INDEX_WORDS: &[&str] = &[
    "sample",
    "samples",
    "index",
    "nr",
    "no",
    "row",
    "scan",
    "point",
    "messpunkt",
    "n",
    "count",
];
/// Keys of a preamble that give the rate in Hz.
const RATE_WORDS: &[&str] = &[
    "sample rate",
    "samplerate",
    "sampling rate",
    "sample frequency",
    "sampling frequency",
    "scan rate",
    "rate",
    "frequency",
    "abtastrate",
    "messrate",
    "frequence",
    "fréquence",
    "sps",
    "fs",
];
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
        let column = |column: &ColumnRef| find(layout, column, &[], "time", shown_as);
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

/// The clock the file itself tells of.
fn sniff(
    layout: &Layout,
    text: &str,
    taken: &[usize],
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> Result<ClockSpec, Finding> {
    let sample = layout.sample(text);
    let rate = preamble_rate(layout);
    let cells = |at: usize| sample.iter().filter_map(move |row| row.get(at).copied());
    let name_of = |at: usize| match layout.names.get(at) {
        Some(name) if !name.is_empty() => ColumnRef::Name(name.clone()),
        _ => ColumnRef::Index(at),
    };
    // Stamps first: their shape is beyond doubt. Where date and time have a column each, the time is the clock.
    let mut dated = None;
    let mut unclear = None;
    for at in (0..layout.width()).filter(|at| !taken.contains(at)) {
        match stamp_kind(cells(at)) {
            Some(StampKind::Iso) if !cells(at).any(|cell| cell.contains(':')) => {}
            Some(StampKind::Iso) => {
                dated.get_or_insert(ClockSpec::Iso {
                    column: name_of(at),
                });
            }
            Some(StampKind::Local(format)) if format.contains('h') => {
                dated.get_or_insert(ClockSpec::Local {
                    column: name_of(at),
                    format,
                });
            }
            Some(StampKind::TimeOfDay(format)) => {
                return Ok(ClockSpec::TimeOfDay {
                    column: name_of(at),
                    format,
                });
            }
            Some(StampKind::Unclear(example)) if example.contains(':') => {
                unclear.get_or_insert((at, example));
            }
            _ => {}
        }
    }
    if let Some((at, example)) = unclear {
        return same_day(
            layout,
            at,
            name_of(at),
            &example,
            &cells(at).collect::<Vec<_>>(),
            shown_as,
            findings,
        );
    }
    let elapsed = time_column(layout, taken);
    if let Some(at) = elapsed
        && let (_, Some(unit)) = named(layout, at)
        && unit.dimension == Dimension::Time
    {
        let first = cells(at).find_map(|cell| match read_cell(cell, layout.marks) {
            Cell::Number(value) => Some(value * unit.factor),
            _ => None,
        });
        // A count of seconds beyond 2001-09-09 is a date, not a stopwatch.
        return Ok(if first.is_some_and(|seconds| seconds > 1e9) {
            ClockSpec::Epoch {
                column: name_of(at),
                unit,
            }
        } else {
            ClockSpec::Relative {
                column: name_of(at),
                unit,
            }
        });
    }
    if let Some(clock) = dated {
        return Ok(clock);
    }
    if let Some(at) = elapsed {
        return plain_time(
            layout,
            at,
            name_of(at),
            rate,
            &cells(at).collect::<Vec<_>>(),
            shown_as,
        );
    }
    let index = (0..layout.width()).find(|at| {
        !taken.contains(at)
            && words(&named(layout, *at).0)
                .iter()
                .any(|word| INDEX_WORDS.contains(&word.as_str()))
    });
    match (index, rate) {
        (Some(at), Some(rate_hz)) => Ok(ClockSpec::Index {
            column: name_of(at),
            rate_hz,
        }),
        (None, Some(rate_hz)) => Ok(ClockSpec::Rate { rate_hz }),
        (Some(at), None) => Err(declare(
            layout,
            shown_as,
            format!(
                "column \"{}\" counts samples, but nothing in the file says how many there are a second",
                label(layout, at)
            ),
            "declare [clock] kind = \"index\", column and rate_hz in the rig",
        )),
        (None, None) => Err(declare(
            layout,
            shown_as,
            missing(layout, None, "time", shown_as).message,
            "declare in the rig [clock] kind = \"relative\" with column and unit, or kind = \"rate\" with rate_hz",
        )),
    }
}

fn declare(layout: &Layout, shown_as: &str, message: String, help: &str) -> Finding {
    Finding::error("clock-unknown", message)
        .at(match layout.names_line {
            Some(line) => Place::line(shown_as, line),
            None => Place::file(shown_as),
        })
        .help(help)
}

/// Stamps whose day and month cannot be told apart: within one day that changes no elapsed time.
fn same_day(
    layout: &Layout,
    at: usize,
    column: ColumnRef,
    example: &str,
    cells: &[&str],
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> Result<ClockSpec, Finding> {
    let date = |cell: &str| {
        cell.trim()
            .split([' ', 'T'])
            .next()
            .unwrap_or_default()
            .to_owned()
    };
    let same = cells.iter().all(|cell| date(cell) == date(example));
    // Any day and month will do for times within the day; the format of a day beyond 12 gives the marks.
    let probe = example.replacen(&date(example), &settle(&date(example)), 1);
    match stamp_kind(std::iter::once(probe.as_str())) {
        Some(StampKind::Local(format)) if same => {
            findings.push(
                Finding::note(
                    "clock-date-unclear",
                    format!("whether {example} is day or month first cannot be told; within one day it changes no time"),
                )
                .at(Place::file(shown_as))
                .help("declare [clock] kind = \"local\" with its format to have the date"),
            );
            Ok(ClockSpec::Local { column, format })
        }
        _ => Err(declare(
            layout,
            shown_as,
            format!(
                "whether the stamps like {example} in column \"{}\" are day or month first cannot be told",
                label(layout, at)
            ),
            "declare [clock] kind = \"local\" and format = \"dd/mm/yyyy hh:mm:ss\" or \"mm/dd/yyyy hh:mm:ss\" in the rig",
        )),
    }
}

/// The same date with a first number that can only be a day.
fn settle(date: &str) -> String {
    match date.find(['/', '-', '.']) {
        Some(at) => format!("28{}", &date[at..]),
        None => date.to_owned(),
    }
}

/// The column that is named like a time.
fn time_column(layout: &Layout, taken: &[usize]) -> Option<usize> {
    let free = || (0..layout.width()).filter(|at| !taken.contains(at));
    let like = |at: usize| {
        let (name, unit) = named(layout, at);
        let timed = unit.is_some_and(|unit| unit.dimension == Dimension::Time);
        let parts = words(&name);
        let lower = name.to_lowercase();
        let named = TIME_WORDS
            .iter()
            .any(|word| parts.iter().any(|part| part == word) || lower == *word);
        let letter = lower == "t" && unit.is_none_or(|unit| unit.dimension == Dimension::Time);
        (named && unit.is_none_or(|_| timed), timed, letter)
    };
    free()
        .find(|at| matches!(like(*at), (true, true, _)))
        .or_else(|| free().find(|at| like(*at).0))
        .or_else(|| free().find(|at| like(*at).2))
        .or_else(|| free().find(|at| like(*at).1))
}

/// A time column without a unit: epoch stamps show by their size, anything else needs the rate of the preamble.
fn plain_time(
    layout: &Layout,
    at: usize,
    column: ColumnRef,
    rate: Option<f64>,
    cells: &[&str],
    shown_as: &str,
) -> Result<ClockSpec, Finding> {
    let numbers: Vec<f64> = cells
        .iter()
        .filter_map(|cell| match read_cell(cell, layout.marks) {
            Cell::Number(value) => Some(value),
            _ => None,
        })
        .collect();
    let unit = |symbol| {
        find_unit(symbol).ok_or_else(|| Finding::error("unit-unknown", format!("no unit {symbol}")))
    };
    // Stamps since 1970 of the years 2001 to 2286 have 10 digits in s, 13 in ms, 16 in us.
    let first = numbers.first().copied().unwrap_or(f64::NAN);
    for (symbol, low) in [("s", 1e9), ("ms", 1e12), ("us", 1e15)] {
        if (low..low * 10.0).contains(&first) {
            return Ok(ClockSpec::Epoch {
                column,
                unit: unit(symbol)?,
            });
        }
    }
    let mut steps: Vec<f64> = numbers.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    let step = steps.get(steps.len() / 2).copied().unwrap_or(f64::NAN);
    if let Some(rate) = rate {
        for symbol in ["s", "ms", "us", "min"] {
            let candidate = unit(symbol)?;
            if ((step * candidate.factor * rate) - 1.0).abs() < 0.02 {
                return Ok(ClockSpec::Relative {
                    column,
                    unit: candidate,
                });
            }
        }
    }
    Err(declare(
        layout,
        shown_as,
        format!(
            "the unit of the time in column \"{}\" cannot be told: the header names none",
            label(layout, at)
        ),
        "declare [clock] kind = \"relative\", column and unit = \"s\" (or \"ms\", \"min\") in the rig",
    ))
}

/// The sample rate a preamble states, Hz.
pub(crate) fn preamble_rate(layout: &Layout) -> Option<f64> {
    layout.preamble.iter().find_map(|(key, value)| {
        let lower = key.to_lowercase();
        let (name, unit) = match lower.find(['[', '(']) {
            Some(at) => (
                lower[..at].trim(),
                lower[at..].trim_matches(['[', ']', '(', ')', ' ']),
            ),
            None => (lower.trim(), ""),
        };
        if !RATE_WORDS.contains(&name) {
            return None;
        }
        let mut cells = value.split_whitespace();
        let marks = [layout.marks, Marks::POINT];
        let text = cells.next()?;
        let number = marks
            .iter()
            .find_map(|marks| match read_cell(text, *marks) {
                Cell::Number(number) => Some(number),
                _ => None,
            })?;
        let unit = cells
            .next()
            .map(str::to_lowercase)
            .unwrap_or_else(|| unit.to_owned());
        let factor = match unit.as_str() {
            "" | "hz" | "1/s" | "s/s" | "sps" | "samples/s" => 1.0,
            "khz" => 1e3,
            _ => return None,
        };
        (number > 0.0).then_some(number * factor)
    })
}
