//! From a file to a raw recording: channels as numbers, each row traceable to its line.

use super::assemble::{read_rows, read_text};
use super::bytes::{input, read_bytes};
use super::clock::Clock;
use super::columns::{self, Picked};
use super::format::{DelimitedText, Format, Ready, ready};
use super::large::{Large, open_large};
use super::layout::{Layout, layout};
use super::original::Original;
use super::part::{Part, file_and_part, with_sheet};
use super::{daylight, sections};
use crate::recording::{Finding, Place, RawRecording, ReadSummary, Severity};
use crate::rig::{ChannelQuantity, Rig};
use crate::units::{Dimension, Unit};
use std::path::Path;

/// Reads a recording as the rig describes it, sniffing what the rig leaves open; `shown_as` is how messages name the file.
/// A path like `a.csv#2` means the second acquisition of that file, `a.xlsx#name` a sheet of it.
///
/// # Errors
/// The findings, at least one of them an error, where the file is no table, its clock or its pressure cannot be had.
pub fn read_trace(path: &Path, shown_as: &str, rig: &Rig) -> Result<RawRecording, Vec<Finding>> {
    let (mut recording, original) = read_original(path, shown_as, rig)?;
    recording.input = Some(original.fingerprint().map_err(|finding| vec![finding])?);
    Ok(recording)
}

/// The same, with the fingerprint of the file left to be taken when there is time for it.
///
/// # Errors
/// As [`read_trace`].
pub fn read_original(
    path: &Path,
    shown_as: &str,
    rig: &Rig,
) -> Result<(RawRecording, Original), Vec<Finding>> {
    let (path, shown_as, part) = file_and_part(path, shown_as);
    // A part of a file is cut out of the whole.
    let large = if part.is_none() {
        open_large(&path, &rig.dialect, &shown_as)
    } else {
        None
    };
    if let Some(large) = large
        && let Some(read) = trace_from_large(&large, &shown_as, rig)
    {
        return Ok((read?, large.into_original(&shown_as)));
    }
    let bytes = read_bytes(&path, &shown_as).map_err(|finding| vec![finding])?;
    let original = Original::hashed(input(&bytes, &shown_as));
    let recording = part_from_bytes(bytes, &shown_as, rig, part.as_ref())?;
    Ok((recording, original))
}

/// Reads a recording that is too large to be held as text; `None` where it must be after all.
fn trace_from_large(
    large: &Large,
    shown_as: &str,
    rig: &Rig,
) -> Option<Result<RawRecording, Vec<Finding>>> {
    let mut findings = large.findings.clone();
    // What is wrong with a part of the text is judged again on the whole.
    let layout = layout(&large.excerpt, &rig.dialect, shown_as).ok()?;
    findings.extend(layout.findings.iter().cloned());
    let plan = plan(&layout, &large.excerpt, rig, shown_as, &mut findings).ok()?;
    let body =
        large.without_footer(large.body(layout.data.1)?, &layout, shown_as, &mut findings)?;
    let encoding = (large.encoding, large.excerpt.is_ascii());
    let mut recording = read_rows(&layout, &plan, &body, encoding, shown_as)?;
    findings.append(&mut recording.findings);
    recording.findings = findings;
    daylight::straighten(&mut recording);
    sections::choose(&mut recording, None);
    recording.summary = summary(
        &DelimitedText,
        large.encoding.name(),
        &layout,
        recording.time_s.len(),
    );
    Some(checked(recording))
}

/// A recording, or its findings if one of them is an error.
fn checked(recording: RawRecording) -> Result<RawRecording, Vec<Finding>> {
    let error = |finding: &Finding| finding.severity == Severity::Error;
    if recording.findings.iter().any(error) {
        return Err(recording.findings);
    }
    Ok(recording)
}

/// Reads a recording from its bytes.
///
/// # Errors
/// As [`read_trace`].
pub fn trace_from_bytes(
    bytes: Vec<u8>,
    shown_as: &str,
    rig: &Rig,
) -> Result<RawRecording, Vec<Finding>> {
    part_from_bytes(bytes, shown_as, rig, None)
}

fn part_from_bytes(
    bytes: Vec<u8>,
    shown_as: &str,
    rig: &Rig,
    part: Option<&Part>,
) -> Result<RawRecording, Vec<Finding>> {
    let Ready {
        format,
        text,
        encoding,
        layout,
        mut findings,
    } = ready(bytes, &with_sheet(rig.dialect.clone(), part), shown_as)?;
    let plan = match plan(&layout, &text, rig, shown_as, &mut findings) {
        Ok(plan) => plan,
        Err(errors) => {
            findings.extend(errors);
            return Err(findings);
        }
    };
    let body = sections::without_footer(&layout, &text, shown_as, &mut findings);
    let mut recording = read_text(&layout, &plan, body, shown_as);
    findings.append(&mut recording.findings);
    recording.findings = findings;
    daylight::straighten(&mut recording);
    sections::choose(&mut recording, part);
    recording.summary = summary(format, &encoding, &layout, recording.time_s.len());
    checked(recording)
}

pub(super) fn summary(
    format: &dyn Format,
    encoding: &str,
    layout: &Layout,
    rows: usize,
) -> ReadSummary {
    ReadSummary {
        format: format.name().to_owned(),
        encoding: encoding.to_owned(),
        delimiter: layout.delimiter_word(),
        decimal: layout.marks.decimal.to_string(),
        thousands: layout.marks.thousands.map(String::from).unwrap_or_default(),
        skip_lines: layout.skip_lines,
        header_rows: layout.header_rows,
        columns: layout.names.clone(),
        units: layout.units.clone(),
        preamble: layout.preamble.clone(),
        rows,
    }
}

/// One channel to be read.
pub(super) struct Wanted {
    pub channel: usize,
    pub quantity: ChannelQuantity,
    pub picked: Picked,
    pub unit: &'static Unit,
}

/// What is to be read from which column.
pub(super) struct Plan {
    pub channels: Vec<Wanted>,
    pub clock: Clock,
}

/// Finds the columns of the channels and the clock. A missing pressure or clock is fatal, any other missing channel a doubt.
fn plan(
    layout: &Layout,
    text: &str,
    rig: &Rig,
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> Result<Plan, Vec<Finding>> {
    let mut errors = Vec::new();
    let mut channels: Vec<Wanted> = Vec::new();
    for (at, channel) in rig.channels.iter().enumerate() {
        let taken: Vec<usize> = channels.iter().map(|wanted| wanted.picked.at).collect();
        let found =
            pick(layout, channel, &taken, shown_as, findings).and_then(|picked| match picked {
                None => Ok(None),
                Some(picked) => {
                    let unit = columns::unit_of(layout, &picked, channel, shown_as, findings)?;
                    if unit.dimension == Dimension::Turns
                        && channel.ml_per_turn.or(rig.ml_per_turn).is_none()
                    {
                        findings.push(no_turn(&picked, layout, shown_as));
                        return Ok(None);
                    }
                    Ok(Some(Wanted {
                        channel: at,
                        quantity: channel.quantity,
                        picked,
                        unit,
                    }))
                }
            });
        let vital = channel.quantity == ChannelQuantity::Pressure
            && !channels
                .iter()
                .any(|wanted| wanted.quantity == ChannelQuantity::Pressure);
        match found {
            Ok(Some(wanted)) => channels.push(wanted),
            Ok(None) if vital => errors.push(columns::missing(layout, None, "pressure", shown_as)),
            Ok(None) => {}
            Err(error) if vital => errors.push(error),
            // A channel the rig does not list is not missed.
            Err(_) if channel.line == 0 => {}
            Err(mut error) => {
                error.severity = Severity::Doubt;
                error.message.push_str("; the channel was left out");
                findings.push(error);
            }
        }
    }
    let taken: Vec<usize> = channels.iter().map(|wanted| wanted.picked.at).collect();
    match Clock::resolve(&rig.clock, layout, text, &taken, shown_as, findings) {
        Ok(clock) if errors.is_empty() => Ok(Plan { channels, clock }),
        Ok(_) => Err(errors),
        Err(error) => {
            errors.push(error);
            Err(errors)
        }
    }
}

/// Turns are no volume before a turn is known.
fn no_turn(picked: &Picked, layout: &Layout, shown_as: &str) -> Finding {
    Finding::doubt(
        "turns-unknown",
        format!(
            "column \"{}\" counts turns, but the rig does not say how much a turn is; the channel was left out",
            picked.name
        ),
    )
    .at(Place {
        file: Some(shown_as.to_owned()),
        line: layout.names_line,
        column: Some(picked.name.clone()),
    })
    .help("add ml_per_turn = 0.5 (mL) to [line] of the rig")
}

/// The column of a channel: by name, else by what looks like the quantity where nothing is declared that could go wrong.
fn pick(
    layout: &Layout,
    channel: &crate::rig::ChannelSpec,
    taken: &[usize],
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> Result<Option<Picked>, Finding> {
    let word = channel.quantity.word();
    let Some(column) = &channel.column else {
        if let Some(alias) = channel.aliases.iter().find_map(|alias| {
            let name = crate::rig::ColumnRef::Name(alias.clone());
            columns::find(layout, &name, &[], taken, word, shown_as).ok()
        }) {
            return Ok(Some(alias));
        }
        return columns::sniff(layout, channel.quantity, taken, shown_as);
    };
    match columns::find(layout, column, &channel.aliases, taken, word, shown_as) {
        Ok(picked) => Ok(Some(picked)),
        // With the unit left to the file, another column of the same quantity cannot be misread.
        Err(error) if channel.unit.is_none() => {
            match columns::sniff(layout, channel.quantity, taken, shown_as)? {
                Some(picked) => {
                    findings.push(
                        Finding::doubt(
                            "column-by-kind",
                            format!(
                                "{}; column \"{}\" was taken, which looks like it",
                                error.message, picked.name
                            ),
                        )
                        .at(Place {
                            file: error.file,
                            line: error.line,
                            column: Some(picked.name.clone()),
                        })
                        .help("add the name to aliases of the channel in the rig"),
                    );
                    Ok(Some(picked))
                }
                None => Err(error),
            }
        }
        Err(error) => Err(error),
    }
}
