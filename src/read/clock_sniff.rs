//! The clock of a file whose rig says nothing of it: stamps by their shape, elapsed time by name and unit, sample numbers and
//! plain rows by a rate in the preamble. What cannot be told is an error that says what to declare.

use super::blocks::beside;
use super::columns::{full_name, label, missing, named, words};
use super::layout::Layout;
use super::number::{Cell, Marks, read_cell};
use super::stamp_sniff::{StampKind, stamp_kind};
use crate::recording::{Finding, Place};
use crate::rig::{ClockSpec, ColumnRef};
use crate::units::{Dimension, find};

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
/// Names that speak of a day.
const DATE_WORDS: &[&str] = &[
    "date", "datum", "datetime", "fecha", "data", "serial", "dato",
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
/// Keys of a preamble that give the step from row to row, with its unit.
const STEP_WORDS: &[&str] = &[
    "interval",
    "sample interval",
    "sampling interval",
    "log interval",
    "logging interval",
    "sample period",
    "sampling period",
    "sample time",
    "time step",
    "timestep",
    "time increment",
    "dt",
    "delta t",
    "delta_t",
    "delta_x",
    "abtastintervall",
    "abtastzeit",
    "messintervall",
    "intervall",
    "intervalle",
    "pas de temps",
    "intervalo",
    "intervallo",
];
/// Rates stated twice may differ by this share: rounding.
const SAME_RATE: f64 = 0.01;
/// Day serials of spreadsheets met in recordings: 1982 to 2119.
const SERIALS: std::ops::Range<f64> = 30_000.0..80_000.0;
/// Steps of a recording in days: more than an hour is no recording.
const SERIAL_STEP: f64 = 1.0 / 24.0;

/// The clock the file itself tells of.
///
/// # Errors
/// An error finding that says what to declare.
pub(crate) fn sniff(
    layout: &Layout,
    text: &str,
    taken: &[usize],
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> Result<ClockSpec, Finding> {
    let sample = layout.sample(text);
    let stated = stated_rate(layout);
    let rate = stated
        .as_ref()
        .ok()
        .and_then(|stated| stated.as_ref())
        .map(|(rate, _)| *rate);
    let cells = |at: usize| sample.iter().filter_map(move |row| row.get(at).copied());
    let name_of = |at: usize| full_name(layout, at).map_or(ColumnRef::Index(at), ColumnRef::Name);
    // Stamps first: their shape is beyond doubt. Where date and time have a column each, the time is the clock.
    let mut dated = None;
    let mut unclear = None;
    let mut coarse = None;
    for at in (0..layout.width()).filter(|at| !taken.contains(at)) {
        let kind = stamp_kind(cells(at));
        if let Some(StampKind::Local(format) | StampKind::TimeOfDay(format)) = &kind
            && format.contains('h')
            && !format.contains('s')
        {
            coarse.get_or_insert(at);
            continue;
        }
        match kind {
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
    let elapsed = time_column(layout, taken).map(|at| beside(layout, at, taken));
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
    if let Some(at) = coarse {
        return Err(declare(
            layout,
            shown_as,
            format!(
                "the stamps in column \"{}\" tell no seconds, so all rows of a minute have one time",
                label(layout, at)
            ),
            "export the recording with seconds, or declare [clock] kind = \"rate\" and rate_hz in the rig",
        ));
    }
    if let Some(at) = elapsed {
        return plain_time(
            layout,
            at,
            name_of(at),
            rate,
            &cells(at).collect::<Vec<_>>(),
            shown_as,
            findings,
        );
    }
    let index = (0..layout.width()).find(|at| {
        !taken.contains(at)
            && words(&named(layout, *at).0)
                .iter()
                .any(|word| INDEX_WORDS.contains(&word.as_str()))
    });
    if let Err(clash) = &stated {
        return Err(declare(
            layout,
            shown_as,
            clash.clone(),
            "declare in the rig [clock] kind = \"rate\" with the rate_hz that is right",
        ));
    }
    if let Ok(Some((rate, words))) = &stated {
        findings.push(
            Finding::note(
                "clock-from-preamble",
                format!("no column holds the time; by the preamble (\"{words}\") there are {rate} rows a second"),
            )
            .at(Place::file(shown_as)),
        );
    }
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

/// Characters of a cell shown in a message.
const EXAMPLE: usize = 40;

/// A time column without a unit: epoch stamps show by their size, anything else needs the rate of the preamble.
fn plain_time(
    layout: &Layout,
    at: usize,
    column: ColumnRef,
    rate: Option<f64>,
    cells: &[&str],
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> Result<ClockSpec, Finding> {
    let numbers: Vec<f64> = cells
        .iter()
        .filter_map(|cell| match read_cell(cell, layout.marks) {
            Cell::Number(value) => Some(value),
            _ => None,
        })
        .collect();
    if numbers.is_empty()
        && let Some(words) = cells.iter().find(|cell| !cell.trim().is_empty())
    {
        let example: String = words.trim().chars().take(EXAMPLE).collect();
        return Err(declare(
            layout,
            shown_as,
            format!(
                "column \"{}\" holds neither numbers nor stamps that are told without a declaration; the first reads \"{example}\"",
                label(layout, at)
            ),
            "declare [clock] kind = \"local\", column and format in the rig, with mmm for the name of a month: \"dd-mmm-yyyy hh:mm:ss\"",
        ));
    }
    let unit = |symbol| {
        find(symbol).ok_or_else(|| Finding::error("unit-unknown", format!("no unit {symbol}")))
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
    match serial_days(layout, at, &numbers, step) {
        Some(true) => {
            findings.push(
                Finding::note(
                    "clock-day-serial",
                    format!(
                        "column \"{}\" was read as days counted from 1899-12-30, as spreadsheets keep dates",
                        label(layout, at)
                    ),
                )
                .at(Place::file(shown_as))
                .help("declare [clock] kind = \"serial\" and column, or another kind, in the rig"),
            );
            return Ok(ClockSpec::Serial { column });
        }
        Some(false) => {
            return Err(declare(
                layout,
                shown_as,
                format!(
                    "the time in column \"{}\" may be days as spreadsheets count them, or seconds: the header does not say",
                    label(layout, at)
                ),
                "declare in the rig [clock] kind = \"serial\" and column, or kind = \"relative\", column and unit = \"s\"",
            ));
        }
        None => {}
    }
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

/// The sample rate a preamble states, Hz, with the line that states it.
///
/// # Errors
/// Words for two lines that state different ones.
fn stated_rate(layout: &Layout) -> Result<Option<(f64, String)>, String> {
    let mut found: Option<(f64, String)> = None;
    for (key, value) in &layout.preamble {
        let Some(rate) = rate_of(key, value, layout.marks) else {
            continue;
        };
        let words = format!("{key}: {value}");
        match &found {
            Some((first, first_words)) if (rate / first - 1.0).abs() > SAME_RATE => {
                return Err(format!(
                    "the preamble states two sampling rates: \"{first_words}\" and \"{words}\""
                ));
            }
            Some(_) => {}
            None => found = Some((rate, words)),
        }
    }
    Ok(found)
}

/// The rate a line of the preamble states, Hz. A bare rate is in Hz, but a step needs its unit.
fn rate_of(key: &str, value: &str, marks: Marks) -> Option<f64> {
    let lower = key.to_lowercase();
    let (name, unit) = match lower.find(['[', '(']) {
        Some(at) => (
            lower[..at].trim(),
            lower[at..].trim_matches(['[', ']', '(', ')', ' ']),
        ),
        None => (lower.trim(), ""),
    };
    // Keys inside keys are joined with points.
    let name = name.rsplit('.').next().unwrap_or(name);
    let is_rate = RATE_WORDS.contains(&name);
    if !is_rate && !STEP_WORDS.contains(&name) {
        return None;
    }
    let value = value.trim();
    // "1ms" as well as "1 ms".
    let end = value
        .find(|c: char| c.is_whitespace() || c.is_alphabetic() && !matches!(c, 'e' | 'E'))
        .unwrap_or(value.len());
    let (text, rest) = value.split_at(end);
    let number = [marks, Marks::POINT]
        .iter()
        .find_map(|marks| match read_cell(text, *marks) {
            Cell::Number(number) => Some(number),
            _ => None,
        })
        .filter(|number| *number > 0.0)?;
    let behind = rest
        .split_whitespace()
        .next()
        .unwrap_or_default()
        .to_lowercase();
    let unit = if behind.is_empty() { unit } else { &behind };
    if is_rate {
        return match unit {
            "" | "hz" | "1/s" | "s/s" | "sps" | "samples/s" => Some(number),
            "khz" => Some(number * 1e3),
            _ => None,
        };
    }
    let unit = find(unit.trim_end_matches('.')).filter(|unit| unit.dimension == Dimension::Time)?;
    Some(if unit.factor < 1.0 {
        // Whole numbers divide exactly where a factor would not: 1 ms is 1000 Hz.
        (1.0 / unit.factor).round() / number
    } else {
        1.0 / (number * unit.factor)
    })
}

/// A day as a spreadsheet counts it: a column named for a date holds day serials where nothing else fits; one only named for a
/// time may as well count the seconds of the day.
fn serial_days(layout: &Layout, at: usize, numbers: &[f64], step: f64) -> Option<bool> {
    let first = *numbers.first()?;
    let serial = numbers.iter().all(|number| SERIALS.contains(number))
        && step > 0.0
        && step < SERIAL_STEP
        && first.fract() != 0.0;
    let dated = words(&named(layout, at).0)
        .iter()
        .any(|word| DATE_WORDS.contains(&word.as_str()));
    serial.then_some(dated)
}
