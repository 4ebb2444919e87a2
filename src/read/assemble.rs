//! All rows of a file: stretches read side by side, put together in the order of the file, so that the result does not depend on the
//! number of threads.

use super::body::Body;
use super::claims::{self, Stop};
use super::layout::Layout;
use super::rows::{Columns, Part, Rules};
use super::split::line_end;
use super::trace::{Plan, Wanted};
use crate::recording::{Finding, Place, RawChannel, RawRecording, ReadSummary, Readings};
use encoding_rs::{Encoding, UTF_8};

/// Most readings of a recording, times included: eight bytes each, more than two days of three channels at 1 kHz.
const MOST_CELLS: usize = 1 << 30;

/// Reads the rows of a text.
pub(super) fn read_text(layout: &Layout, plan: &Plan, text: &str, file: &str) -> RawRecording {
    let bytes = text.as_bytes().get(layout.data.0..).unwrap_or_default();
    let rules = Rules::new(layout, plan, UTF_8, line_end(text), file);
    let body = Body::Memory(bytes);
    let lines = body.lines_in_all(rules.end).unwrap_or_default();
    // Memory always reads.
    read_body(rules, &body, layout, plan, file, lines as usize, false).unwrap_or_default()
}

/// Reads the rows of a large file in an encoding, of which the excerpts may have been plain ASCII; `None` where it cannot be read or is not
/// what they promised. Accents that no excerpt showed leave the encoding open, and zeros are padding: both are for the careful way.
pub(super) fn read_rows(
    layout: &Layout,
    plan: &Plan,
    body: &Body<'_>,
    (encoding, ascii): (&'static Encoding, bool),
    file: &str,
) -> Option<RawRecording> {
    let read = |room: u64| {
        let rules = Rules::new(layout, plan, encoding, b'\n', file);
        read_body(rules, body, layout, plan, file, room as usize, ascii)
    };
    let room = body.lines_at_most(b'\n')?;
    if fits(room as usize, plan.channels.len()) {
        match read(room) {
            // Lines become shorter where none was looked at.
            Err(Stop::NoRoom) => {}
            recording => return recording.ok(),
        }
    }
    read(body.lines_in_all(b'\n')?).ok()
}

/// Reads the rows of a body into columns with room for so many lines.
fn read_body(
    mut rules: Rules<'_>,
    body: &Body<'_>,
    layout: &Layout,
    plan: &Plan,
    file: &str,
    room: usize,
    ascii: bool,
) -> Result<RawRecording, Stop> {
    if !fits(room, plan.channels.len()) {
        return Ok(too_many(room, plan, file));
    }
    let mut buffer = Vec::new();
    for at in 0..body.stretches() {
        if !rules.ticker.waits() {
            break;
        }
        let stretch = body.stretch(at, rules.end, &mut buffer);
        rules.begin(stretch.map_err(|_| Stop::Unreadable)?.bytes);
    }
    let mut time_s = Readings::zeros(room);
    let mut values: Vec<Readings> = plan
        .channels
        .iter()
        .map(|_| Readings::zeros(room))
        .collect();
    let columns = Columns {
        time_s: &mut time_s,
        values: values.iter_mut().map(|column| &mut column[..]).collect(),
    };
    let parts = claims::read(body, &rules, layout.data.1, columns, ascii)?;
    let mut whole = rules.nothing();
    let mut from = 0;
    for (part, lines) in parts {
        // Blank lines and remarks leave no row: what follows moves up.
        if whole.rows < from {
            for column in values.iter_mut().chain([&mut time_s]) {
                column.copy_within(from..from + part.rows, whole.rows);
            }
        }
        from += lines;
        whole.append(part);
    }
    for column in values.iter_mut().chain([&mut time_s]) {
        column.truncate(whole.rows);
    }
    rules.ticker.finish(&mut time_s);
    Ok(finish(&rules, layout, plan, whole, time_s, values, file))
}

/// True if so many lines may be held for so many channels and their time.
fn fits(lines: usize, channels: usize) -> bool {
    lines.saturating_mul(channels + 1) <= MOST_CELLS
}

/// What is left of a recording that asks for more memory than any has: the error.
fn too_many(lines: usize, plan: &Plan, file: &str) -> RawRecording {
    let channels = plan.channels.len();
    RawRecording {
        file: file.to_owned(),
        findings: vec![
            Finding::error(
                "recording-too-long",
                format!("{file} has {lines} lines for {channels} channels; at most {MOST_CELLS} readings are held"),
            )
            .at(Place::file(file))
            .help("cut the recording to the run, or export it at a lower rate"),
        ],
        ..RawRecording::default()
    }
}

/// The recording with what is to be said of its rows.
fn finish(
    rules: &Rules<'_>,
    layout: &Layout,
    plan: &Plan,
    whole: Part,
    time_s: Readings,
    values: Vec<Readings>,
    file: &str,
) -> RawRecording {
    let mut findings = whole.findings.clone();
    rows_said(layout, &whole, file, &mut findings);
    times_said(plan, &whole, &time_s, file, &mut findings);
    for gaps in &whole.gaps {
        findings.extend(gaps.finding(whole.rows, file));
    }
    let channel = |(wanted, values): (&Wanted, Readings)| RawChannel {
        channel: wanted.channel,
        quantity: wanted.quantity,
        column: wanted.picked.name.clone(),
        unit: wanted.unit,
        values,
    };
    RawRecording {
        file: file.to_owned(),
        channels: plan
            .channels
            .iter()
            .zip(values)
            // A column without a reading is as good as none.
            .filter(|(_, values)| values.iter().any(|value| value.is_finite()))
            .map(channel)
            .collect(),
        time_s,
        line: whole.lines,
        restarts: whole.restarts,
        other_header: whole.other_header,
        started_at: rules.ticker.started_at.clone(),
        summary: ReadSummary::default(),
        findings,
        input: None,
        clock: plan.clock.spec.clone(),
    }
}

fn rows_said(layout: &Layout, whole: &Part, file: &str, findings: &mut Vec<Finding>) {
    let at = |line| Place::line(file, line);
    if whole.rows == 0 {
        findings.push(
            Finding::error(
                "no-data-rows",
                format!("{file} holds a header but no rows of readings"),
            )
            .at(at(layout.data.1.saturating_sub(1).max(1)))
            .help("record or export it again, or take the run out of runs.csv"),
        );
    }
    for restart in &whole.restarts {
        let line = whole.lines.get(*restart).unwrap_or(layout.data.1);
        findings.push(
            Finding::doubt(
                "logger-restart",
                "the header stands again in the middle of the file: the logger began anew",
            )
            .at(at(line.saturating_sub(1))),
        );
    }
    if whole.other.0 > 0 {
        let (count, line, text) = &whole.other;
        findings.push(
            Finding::note(
                "lines-skipped",
                format!(
                    "{count} line(s) hold no readings and were left out; the first reads \"{text}\""
                ),
            )
            .at(at(*line)),
        );
    }
    if let Some(line) = whole.doubled {
        findings.push(
            Finding::doubt(
                "mark-doubled",
                format!(
                    "numbers with several \"{m}\" were read with the last as decimal mark and the others grouping thousands",
                    m = layout.marks.decimal
                ),
            )
            .at(at(line))
            .help("declare decimal and thousands in [dialect] of the rig if that is wrong"),
        );
    }
}

fn times_said(plan: &Plan, whole: &Part, time_s: &[f64], file: &str, findings: &mut Vec<Finding>) {
    let (count, line, stamp) = &whole.untimed;
    let stamp = format!(
        "\"{stamp}\", where the clock of the rig expects {}",
        plan.clock.expects()
    );
    if whole.rows > 0 && time_s.iter().all(|time| !time.is_finite()) {
        findings.push(
            Finding::error(
                "clock-unreadable",
                format!("no row has a readable time stamp; the first reads {stamp}"),
            )
            .at(Place::line(file, whole.lines.get(0).unwrap_or(1)))
            .help("check kind, column, format and unit of [clock] in the rig"),
        );
    } else if *count > 0 {
        findings.push(
            Finding::doubt(
                "time-unreadable",
                format!("{count} row(s) have readings but no readable time stamp; the first reads {stamp}"),
            )
            .at(Place::line(file, *line))
            .help("check kind, format and unit of [clock] in the rig"),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::fits;

    #[test]
    fn memory_is_bounded_before_it_is_asked_for() {
        // Ten million rows of four channels, and a day of three at 1 kHz.
        assert!(fits(10_000_000, 4) && fits(86_400_000, 3));
        // A file of nothing but line ends as long as any that is read.
        assert!(!fits(1 << 31, 1) && !fits(usize::MAX, 3));
    }
}
