//! From a file to a raw recording: channels as numbers, each row traceable to its line.

use super::bytes::read_bytes;
use super::clock::{Clock, Ticker};
use super::columns::{self, Picked};
use super::format::{Format, Ready, ready};
use super::gaps::Gaps;
use super::layout::Layout;
use super::number::{Cell, doubled_mark, read_cell, read_plain};
use super::part::{Part, file_and_part};
use super::split::{LONGEST_LINE, Line, Lines, split};
use super::{daylight, sections};
use crate::recording::{Finding, Place, RawChannel, RawRecording, ReadSummary, Severity};
use crate::rig::{ChannelQuantity, Rig, SheetRef};
use crate::units::{Dimension, Unit};
use std::path::Path;

/// Reads a recording as the rig describes it, sniffing what the rig leaves open; `shown_as` is how messages name the file.
/// A path like `a.csv#2` means the second acquisition of that file, `a.xlsx#name` a sheet of it.
///
/// # Errors
/// The findings, at least one of them an error, where the file is no table, its clock or its pressure cannot be had.
pub fn read_trace(path: &Path, shown_as: &str, rig: &Rig) -> Result<RawRecording, Vec<Finding>> {
    let (path, shown_as, part) = file_and_part(path, shown_as);
    let (bytes, input) = read_bytes(&path, &shown_as).map_err(|finding| vec![finding])?;
    let mut recording = part_from_bytes(bytes, &shown_as, rig, part.as_ref())?;
    recording.input = Some(input);
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
    let mut dialect = rig.dialect.clone();
    if let Some(Part::Sheet(name)) = part {
        dialect.sheet = Some(SheetRef::Name(name.clone()));
    }
    let Ready {
        format,
        text,
        encoding,
        layout,
        mut findings,
    } = ready(bytes, &dialect, shown_as)?;
    let plan = match plan(&layout, &text, rig, shown_as, &mut findings) {
        Ok(plan) => plan,
        Err(errors) => {
            findings.extend(errors);
            return Err(findings);
        }
    };
    let body = sections::without_footer(&layout, &text, shown_as, &mut findings);
    let mut reader = RowReader::new(&layout, &plan, body, shown_as);
    reader.run();
    let mut recording = reader.finish();
    findings.append(&mut recording.findings);
    recording.findings = findings;
    daylight::straighten(&mut recording);
    sections::choose(&mut recording, &layout, body, part);
    recording.summary = summary(format, &encoding, &layout, recording.time_s.len());
    let fatal = recording
        .findings
        .iter()
        .any(|finding| finding.severity == Severity::Error);
    if fatal {
        return Err(recording.findings);
    }
    Ok(recording)
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

/// Reads the rows one by one.
pub(super) struct RowReader<'r> {
    layout: &'r Layout,
    plan: &'r Plan,
    text: &'r str,
    file: &'r str,
    ticker: Ticker<'r>,
    time_s: Vec<f64>,
    line: Vec<u64>,
    values: Vec<Vec<f64>>,
    gaps: Vec<Gaps>,
    restarts: Vec<usize>,
    findings: Vec<Finding>,
    /// Lines that are neither readings nor blank: how many, the first and its text.
    other: (usize, u64, String),
    doubled: (usize, u64),
    /// Rows with readings but no time: how many, the first and its stamp.
    unreadable_times: (usize, u64, String),
}

impl<'r> RowReader<'r> {
    pub fn new(layout: &'r Layout, plan: &'r Plan, text: &'r str, file: &'r str) -> Self {
        let body = text.len().saturating_sub(layout.data.0);
        let first = Lines::from(text, layout.data.0, layout.data.1)
            .next()
            .map_or(64, |line| line.text.len().max(8));
        let rows = body / first + 1;
        Self {
            layout,
            plan,
            text,
            file,
            ticker: Ticker::new(&plan.clock, layout.marks),
            time_s: Vec::with_capacity(rows),
            line: Vec::with_capacity(rows),
            values: plan
                .channels
                .iter()
                .map(|_| Vec::with_capacity(rows))
                .collect(),
            gaps: plan
                .channels
                .iter()
                .map(|wanted| Gaps::new(&wanted.picked.name, wanted.quantity.word()))
                .collect(),
            restarts: Vec::new(),
            findings: Vec::new(),
            other: (0, 0, String::new()),
            doubled: (0, 0),
            unreadable_times: (0, 0, String::new()),
        }
    }

    pub fn run(&mut self) {
        let mut cells = Vec::with_capacity(self.layout.width());
        for line in Lines::from(self.text, self.layout.data.0, self.layout.data.1) {
            if line.text.len() > LONGEST_LINE {
                self.findings.push(
                    Finding::error(
                        "line-too-long",
                        format!(
                            "line {} has {} bytes; lines of a table have at most {LONGEST_LINE}",
                            line.number,
                            line.text.len()
                        ),
                    )
                    .at(Place::line(self.file, line.number))
                    .help("check that the file is a text table with line ends"),
                );
                return;
            }
            if self.layout.is_skipped(line.text) {
                continue;
            }
            split(line.text, self.layout.delimiter, &mut cells);
            self.row(&line, &cells);
        }
    }

    fn row(&mut self, line: &Line<'_>, cells: &[&str]) {
        let marks = self.layout.marks;
        let cut = !line.ended && cells.len() < self.layout.width();
        // The last cell of a line cut short may have lost digits.
        let sound = if cut {
            cells.len().saturating_sub(1)
        } else {
            cells.len()
        };
        let cell = |at: usize| {
            if at < sound {
                cells.get(at).copied().unwrap_or("")
            } else {
                ""
            }
        };
        let time_cell = self
            .plan
            .clock
            .column
            .as_ref()
            .map(|picked| cell(picked.at));
        let seconds = self.ticker.read(time_cell.unwrap_or_default());
        let (mut readings, mut words) = (0_usize, 0_usize);
        for ((wanted, values), gaps) in self
            .plan
            .channels
            .iter()
            .zip(&mut self.values)
            .zip(&mut self.gaps)
        {
            let text = cell(wanted.picked.at);
            if let Some(number) = read_plain(text, marks.decimal) {
                readings += 1;
                values.push(number);
                gaps.add(Cell::Number(number), text, line.number);
                continue;
            }
            let value = read_cell(text, marks);
            match value {
                Cell::Number(number) => {
                    readings += 1;
                    values.push(number);
                    if self.doubled.0 == 0 && doubled_mark(text, marks) {
                        self.doubled = (1, line.number);
                    }
                }
                Cell::Missing => values.push(f64::NAN),
                Cell::Text => {
                    words += 1;
                    values.push(f64::NAN);
                }
            }
            gaps.add(value, text, line.number);
        }
        let timed = time_cell.is_none() || seconds.is_finite();
        // A word for a time in a row too short: a line of the preamble that stands again.
        let remark = !timed
            && cells.len() < self.layout.width()
            && time_cell.is_some_and(|text| read_cell(text, marks) == Cell::Text);
        let few = cells.len() < self.layout.width().min(2);
        let no_row = remark || readings == 0 && (words > 0 || !timed || few);
        if no_row || (cut && readings == 0) {
            self.take_back(line, cut);
            return;
        }
        if !timed {
            if self.unreadable_times.0 == 0 {
                self.unreadable_times.1 = line.number;
                self.unreadable_times.2 = time_cell.unwrap_or_default().chars().take(40).collect();
            }
            self.unreadable_times.0 += 1;
        } else if self.doubled.0 == 0 && time_cell.is_some_and(|text| doubled_mark(text, marks)) {
            self.doubled = (1, line.number);
        }
        if cut {
            self.findings.push(
                Finding::note(
                    "last-line-cut",
                    "the last line ends early; what stands before its last cell was kept",
                )
                .at(Place::line(self.file, line.number)),
            );
        }
        self.time_s.push(seconds);
        self.line.push(line.number);
    }

    /// The line was no row of readings: a header of a restarted logger, a remark, or a stump.
    fn take_back(&mut self, line: &Line<'_>, cut: bool) {
        self.ticker.take_back();
        for (values, gaps) in self.values.iter_mut().zip(&mut self.gaps) {
            values.pop();
            gaps.take_back();
        }
        let text = line.text.trim();
        if self
            .layout
            .header_lines
            .first()
            .is_some_and(|header| header == text)
        {
            if self.restarts.last() != Some(&self.time_s.len()) {
                self.restarts.push(self.time_s.len());
            }
            return;
        }
        if self.layout.header_lines.iter().any(|header| header == text) {
            return;
        }
        if cut {
            self.findings.push(
                Finding::note(
                    "last-line-cut",
                    "the last line is cut short and was left out",
                )
                .at(Place::line(self.file, line.number)),
            );
            return;
        }
        if self.other.0 == 0 {
            self.other = (0, line.number, text.chars().take(40).collect());
        }
        self.other.0 += 1;
    }

    pub fn finish(self) -> RawRecording {
        let rows = self.time_s.len();
        let mut findings = self.findings;
        let at = |line| Place::line(self.file, line);
        if rows == 0 {
            findings.push(
                Finding::error(
                    "no-data-rows",
                    format!("{} holds a header but no rows of readings", self.file),
                )
                .at(Place::line(
                    self.file,
                    self.layout.data.1.saturating_sub(1).max(1),
                ))
                .help("record or export it again, or take the run out of runs.csv"),
            );
        }
        for restart in &self.restarts {
            let line = self
                .line
                .get(*restart)
                .copied()
                .unwrap_or(self.layout.data.1);
            findings.push(
                Finding::doubt(
                    "logger-restart",
                    "the header stands again in the middle of the file: the logger began anew",
                )
                .at(at(line.saturating_sub(1))),
            );
        }
        if self.other.0 > 0 {
            let (count, line, text) = &self.other;
            findings.push(
                Finding::note(
                    "lines-skipped",
                    format!("{count} line(s) hold no readings and were left out; the first reads \"{text}\""),
                )
                .at(at(*line)),
            );
        }
        if self.doubled.0 > 0 {
            findings.push(
                Finding::doubt(
                    "mark-doubled",
                    format!(
                        "numbers with several \"{m}\" were read with the last as decimal mark and the others grouping thousands",
                        m = self.layout.marks.decimal
                    ),
                )
                .at(at(self.doubled.1))
                .help("declare decimal and thousands in [dialect] of the rig if that is wrong"),
            );
        }
        let untimed = rows > 0 && self.time_s.iter().all(|time| !time.is_finite());
        let stamp = format!(
            "\"{}\", where the clock of the rig expects {}",
            self.unreadable_times.2,
            self.plan.clock.expects()
        );
        if self.unreadable_times.0 > 0 && !untimed {
            findings.push(
                Finding::doubt(
                    "time-unreadable",
                    format!(
                        "{} row(s) have readings but no readable time stamp; the first reads {stamp}",
                        self.unreadable_times.0
                    ),
                )
                .at(at(self.unreadable_times.1))
                .help("check kind, format and unit of [clock] in the rig"),
            );
        }
        if untimed {
            let message = format!("no row has a readable time stamp; the first reads {stamp}");
            findings.push(
                Finding::error("clock-unreadable", message)
                    .at(at(self.line.first().copied().unwrap_or(1)))
                    .help("check kind, column, format and unit of [clock] in the rig"),
            );
        }
        for gaps in &self.gaps {
            findings.extend(gaps.finding(rows, self.file));
        }
        let channels = self
            .plan
            .channels
            .iter()
            .zip(self.values)
            // A column without a reading is as good as none.
            .filter(|(_, values)| values.iter().any(|value| value.is_finite()))
            .map(|(wanted, values)| RawChannel {
                channel: wanted.channel,
                quantity: wanted.quantity,
                column: wanted.picked.name.clone(),
                unit: wanted.unit,
                values,
            })
            .collect();
        RawRecording {
            file: self.file.to_owned(),
            time_s: self.time_s,
            line: self.line,
            channels,
            restarts: self.restarts,
            started_at: self.ticker.started_at,
            summary: ReadSummary::default(),
            findings,
            clock: self.plan.clock.spec.clone(),
            input: None,
        }
    }
}
