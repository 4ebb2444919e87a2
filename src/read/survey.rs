//! A look at a file without knowing its rig: what is in it, column by column.

use super::assemble::read_text;
use super::blocks;
use super::bytes::read_bytes;
use super::clock::Clock;
use super::columns::{self, Picked, full_name, label, named};
use super::format::{Ready, ready};
use super::layout::Layout;
use super::part::{Part, file_and_part, with_sheet};
use super::trace::{Plan, Wanted, summary};
use super::{daylight, sections};
use crate::recording::{Finding, ReadSummary, Severity};
use crate::rig::{ChannelQuantity, ClockSpec, DialectSpec, Rig};
use crate::units::{self, Unit};
use std::path::Path;

/// A file has at most so many columns looked at; the others are only counted.
const MOST_COLUMNS: usize = 200;

/// Notes that whoever looks at a file wants to hear of, beside every doubt.
const TOLD_NOTES: &[&str] = &[
    "lines-skipped",
    "last-line-cut",
    "footer-left-out",
    "sheet-chosen",
    "rows-hidden",
    "clock-from-preamble",
    "clock-date-unclear",
    "json-left-out",
    "clock-day-serial",
    "acquisition-chosen",
];

/// One column as it looks.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnSurvey {
    /// 0-based number.
    pub at: usize,
    /// Name in the header; empty where there is none.
    pub name: String,
    /// Unit the header states, as it writes it; empty where it states none.
    pub unit_text: String,
    /// That unit, where it is known.
    pub unit: Option<&'static Unit>,
    /// What the column looks like.
    pub quantity: Option<ChannelQuantity>,
    /// True for the column of the clock.
    pub is_clock: bool,
    /// Lowest and highest reading; `None` for a column without readings.
    pub range: Option<(f64, f64)>,
    /// Median of the first readings, taken before anything was done.
    pub at_start: Option<f64>,
    /// Cells without a reading.
    pub missing: usize,
    /// Smallest step between two readings.
    pub step: Option<f64>,
    /// Usual step from row to row of a column that only ever rises, and evenly: it may be a time.
    pub rises_by: Option<f64>,
}

/// The clock as it looks.
#[derive(Debug, Clone, PartialEq)]
pub struct TimeSurvey {
    /// The clock as a rig would declare it.
    pub spec: ClockSpec,
    /// Length, s.
    pub span_s: f64,
    /// Usual step, s; the mean one where there are no pauses, since rounded stamps step unevenly.
    pub step_s: f64,
    /// Shortest step forward, s.
    pub shortest_s: f64,
    /// Pauses of more than 1.5 steps.
    pub gaps: usize,
    /// Longest step, s.
    pub longest_s: f64,
    /// Rows with the time of the row before.
    pub repeats: usize,
    /// Rows earlier than the row before.
    pub steps_back: usize,
    /// Rows without a readable time.
    pub unreadable: usize,
}

/// What a file holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Survey {
    /// File as shown.
    pub file: String,
    /// Size.
    pub bytes: u64,
    /// Dialect and header.
    pub summary: ReadSummary,
    /// True where the header has a comment mark, and which.
    pub comment: Option<String>,
    /// Columns.
    pub columns: Vec<ColumnSurvey>,
    /// Clock, or why it is not known.
    pub time: Result<TimeSurvey, Finding>,
    /// Times the header stands again.
    pub restarts: usize,
    /// What was doubtful.
    pub findings: Vec<Finding>,
}

/// Looks at a file. A rig helps with its dialect and clock where given.
///
/// # Errors
/// The findings where the file is no table.
pub fn survey(path: &Path, shown_as: &str, rig: Option<&Rig>) -> Result<Survey, Vec<Finding>> {
    let (path, shown_as, part) = file_and_part(path, shown_as);
    let bytes = read_bytes(&path, &shown_as).map_err(|finding| vec![finding])?;
    survey_part(bytes, &shown_as, rig, part.as_ref())
}

/// Looks at the bytes of a file.
///
/// # Errors
/// As [`survey`].
pub fn survey_from_bytes(
    bytes: Vec<u8>,
    shown_as: &str,
    rig: Option<&Rig>,
) -> Result<Survey, Vec<Finding>> {
    survey_part(bytes, shown_as, rig, None)
}

fn survey_part(
    bytes: Vec<u8>,
    shown_as: &str,
    rig: Option<&Rig>,
    part: Option<&Part>,
) -> Result<Survey, Vec<Finding>> {
    let size = bytes.len() as u64;
    let spec = rig.map_or_else(DialectSpec::default, |rig| rig.dialect.clone());
    let Ready {
        format,
        text,
        encoding,
        layout,
        mut findings,
    } = ready(bytes, &with_sheet(spec, part), shown_as)?;

    let declared = rig.map_or(&ClockSpec::Auto, |rig| &rig.clock);
    let clock = Clock::resolve(declared, &layout, &text, &[], shown_as, &mut findings);
    let clock_column = clock
        .as_ref()
        .ok()
        .and_then(|clock| clock.column.as_ref())
        .map(|picked| picked.at);
    let quantities = quantities(&layout, clock_column, shown_as);
    let plan = plan_all(&layout, clock.as_ref().ok())?;
    let body = sections::without_footer(&layout, &text, shown_as, &mut findings);
    let mut recording = read_text(&layout, &plan, body, shown_as);
    daylight::straighten(&mut recording);
    let before = recording.findings.len();
    sections::choose(&mut recording, part);
    let errors: Vec<Finding> = recording
        .findings
        .iter()
        .skip(before)
        .filter(|finding| finding.severity == Severity::Error)
        .cloned()
        .collect();
    if !errors.is_empty() {
        return Err(errors);
    }
    findings.extend(
        recording
            .findings
            .iter()
            .filter(|finding| {
                !matches!(finding.code.as_str(), "readings-missing" | "channel-empty")
            })
            .cloned(),
    );
    let mut columns: Vec<ColumnSurvey> = (0..layout.width().min(MOST_COLUMNS))
        .map(|at| {
            let values = recording
                .channels
                .iter()
                .find(|channel| channel.channel == at)
                .map(|channel| &channel.values[..])
                .unwrap_or_default();
            let mut column = column(&layout, at, values, recording.time_s.len());
            column.is_clock = clock_column == Some(at);
            column.quantity = quantities
                .iter()
                .find(|(_, of)| *of == at)
                .map(|(quantity, _)| *quantity);
            column
        })
        .collect();
    let time = clock.map(|clock| time_survey(clock.spec, &recording.time_s));
    if let (Ok(time), Some(column)) = (
        &time,
        columns
            .iter_mut()
            .find(|column: &&mut ColumnSurvey| column.is_clock),
    ) {
        column.missing = time.unreadable;
    }
    Ok(Survey {
        file: shown_as.to_owned(),
        bytes: size,
        summary: summary(format, &encoding, &layout, recording.time_s.len()),
        comment: layout.comment.clone(),
        columns,
        time,
        restarts: recording.restarts.len(),
        findings: findings
            .into_iter()
            .filter(|finding| {
                finding.severity > Severity::Note || TOLD_NOTES.contains(&finding.code.as_str())
            })
            .collect(),
    })
}

/// Every column as a channel without a meaning.
fn plan_all(layout: &Layout, clock: Option<&Clock>) -> Result<Plan, Vec<Finding>> {
    let Some(unit) = units::find("1") else {
        return Err(vec![Finding::error("unit-unknown", "no unit 1")]);
    };
    let channels = (0..layout.width().min(MOST_COLUMNS))
        .map(|at| Wanted {
            channel: at,
            quantity: ChannelQuantity::Marker,
            picked: Picked {
                at,
                name: label(layout, at),
            },
            unit,
        })
        .collect();
    Ok(Plan {
        channels,
        clock: clock.cloned().unwrap_or_else(|| Clock::rate(1.0)),
    })
}

/// Which column looks like which quantity.
fn quantities(
    layout: &Layout,
    clock: Option<usize>,
    shown_as: &str,
) -> Vec<(ChannelQuantity, usize)> {
    // Of blocks side by side, only the first is proposed.
    let mut taken: Vec<usize> = clock.into_iter().chain(blocks::later(layout)).collect();
    let mut found = Vec::new();
    for quantity in [
        ChannelQuantity::Pressure,
        ChannelQuantity::Turns,
        ChannelQuantity::Volume,
        ChannelQuantity::Diameter,
        ChannelQuantity::Force,
        ChannelQuantity::Temperature,
        ChannelQuantity::Sound,
    ] {
        if let Ok(Some(picked)) = columns::sniff(layout, quantity, &taken, shown_as) {
            taken.push(picked.at);
            found.push((quantity, picked.at));
        }
    }
    found
}

fn column(layout: &Layout, at: usize, values: &[f64], rows: usize) -> ColumnSurvey {
    let (_, unit) = named(layout, at);
    let finite = || values.iter().copied().filter(|value| value.is_finite());
    let low = finite().fold(f64::INFINITY, f64::min);
    let high = finite().fold(f64::NEG_INFINITY, f64::max);
    let mut first: Vec<f64> = finite().take(25).collect();
    first.sort_by(f64::total_cmp);
    let unit_text = match layout.units.get(at) {
        Some(text) if !text.is_empty() => text.clone(),
        _ => unit.map(|unit| unit.symbol.to_owned()).unwrap_or_default(),
    };
    ColumnSurvey {
        at,
        name: full_name(layout, at).unwrap_or_default(),
        unit_text,
        unit,
        quantity: None,
        is_clock: false,
        range: (low <= high).then_some((low, high)),
        at_start: first.get(first.len() / 2).copied(),
        missing: rows - finite().count(),
        step: smallest_step(finite()),
        rises_by: rises_by(values),
    }
}

/// Share of steps that must be equal, and by how much they may differ, for a column to rise evenly.
const EVEN: (f64, f64) = (0.8, 0.1);

/// The usual step of a column that rises from row to row, evenly but for a few gaps.
fn rises_by(values: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> = values.windows(2).map(|pair| pair[1] - pair[0]).collect();
    if steps.len() < 10 || steps.iter().any(|step| !step.is_finite() || *step < 0.0) {
        return None;
    }
    let all = steps.len() as f64;
    steps.sort_by(f64::total_cmp);
    let usual = *steps.get(steps.len() / 2)?;
    let even = steps
        .iter()
        .filter(|step| (**step - usual).abs() <= EVEN.1 * usual)
        .count();
    (usual > 0.0 && even as f64 >= EVEN.0 * all).then_some(usual)
}

/// Smallest difference between readings that is no rounding of the last bit.
fn smallest_step(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let largest = sorted
        .iter()
        .fold(0.0_f64, |most, value| most.max(value.abs()));
    let dust = largest * 1e-12;
    sorted
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .filter(|step| *step > dust)
        .min_by(f64::total_cmp)
}

fn time_survey(spec: ClockSpec, time_s: &[f64]) -> TimeSurvey {
    let finite: Vec<f64> = time_s
        .iter()
        .copied()
        .filter(|time| time.is_finite())
        .collect();
    let steps: Vec<f64> = finite.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mut sorted: Vec<f64> = steps.iter().copied().filter(|step| *step > 0.0).collect();
    sorted.sort_by(f64::total_cmp);
    let usual = sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN);
    let longest_s = sorted.last().copied().unwrap_or(f64::NAN);
    let low = finite.iter().copied().fold(f64::INFINITY, f64::min);
    let high = finite.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let gaps = steps.iter().filter(|step| **step > 1.5 * usual).count();
    let forward = gaps == 0 && sorted.len() == steps.len();
    TimeSurvey {
        spec,
        span_s: if low <= high { high - low } else { f64::NAN },
        step_s: if forward && high > low {
            (high - low) / steps.len() as f64
        } else {
            usual
        },
        shortest_s: sorted.first().copied().unwrap_or(f64::NAN),
        gaps,
        longest_s,
        repeats: steps.iter().filter(|step| **step == 0.0).count(),
        steps_back: steps.iter().filter(|step| **step < 0.0).count(),
        unreadable: time_s.len() - finite.len(),
    }
}
