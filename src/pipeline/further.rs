//! Further recordings of a run: read, put on the main clock, or left out with a finding.

use super::Study;
use crate::calibrate::sync::{Further, attach};
use crate::read;
use crate::recording::{
    Finding, FurtherRecording, Input, Place, RawRecording, RunRow, Severity, Trace, suggest,
};
use crate::rig::{RecordingSpec, Rig};

/// A run whose main recording is read.
pub(super) struct Main<'a> {
    pub study: &'a Study,
    pub rig: &'a Rig,
    pub run: &'a RunRow,
    /// Absolute time of the first sample of the main recording, if its clock is absolute.
    pub started_at: Option<&'a str>,
}

/// A further recording that could be opened.
pub(super) struct Opened {
    /// Column of the runs table that names it.
    pub column: String,
    pub input: Input,
}

/// What was added to a run.
#[derive(Default)]
pub(super) struct Added {
    pub recordings: Vec<FurtherRecording>,
    pub findings: Vec<Finding>,
}

/// Adds what the further recordings of a run hold to its trace; what went wrong is a doubt, because the run stands without them.
pub(super) fn add(main: &Main<'_>, trace: &mut Trace, opened: &mut Vec<Opened>) -> Added {
    let (rig, run) = (main.rig, main.run);
    let mut added = Added::default();
    added.findings.extend(unclaimed(rig, run));
    for spec in &rig.recordings {
        let Some(file) = run.further.get(&spec.trace_column) else {
            added.findings.push(
                Finding::note(
                    "no-further-recording",
                    format!("the run names no file of the recording {}", spec.name),
                )
                .at(Place::cell(&run.file, run.line, &spec.trace_column)),
            );
            continue;
        };
        let mut told = FurtherRecording {
            name: spec.name.clone(),
            file: file.clone(),
            ..FurtherRecording::default()
        };
        let path = main.study.folder.join(file);
        let mut open = |input: Option<Input>| {
            opened.extend(input.map(|input| Opened {
                column: spec.trace_column.clone(),
                input,
            }));
        };
        match read::read_trace(&path, file, &spec.rig(rig)) {
            Err(findings) => {
                let file = read::file_of(&main.study.folder, file);
                open(read::fingerprint(&main.study.folder.join(&file), &file).ok());
                told.reason = findings
                    .iter()
                    .find(|finding| finding.severity == Severity::Error)
                    .map(|finding| finding.message.clone());
                added.findings.extend(left_out(spec, findings));
            }
            Ok(mut raw) => {
                open(raw.input.take());
                added.findings.append(&mut raw.findings);
                told.read = std::mem::take(&mut raw.summary);
                told.channels = channels(&raw, spec);
                let further = Further {
                    file,
                    spec,
                    bench: rig,
                    main_started_at: main.started_at,
                    started_at: raw.started_at.take(),
                };
                let attached = attach(trace, &further, raw, run);
                added.findings.extend(attached.findings);
                told.used = attached.used;
                match attached.clock {
                    Ok(clock) => told.clock = Some(clock),
                    Err(reason) => told.reason = Some(reason),
                }
            }
        }
        added.recordings.push(told);
    }
    added
}

/// Errors of a file that the run can do without.
fn left_out(spec: &RecordingSpec, mut findings: Vec<Finding>) -> Vec<Finding> {
    for finding in &mut findings {
        if finding.severity == Severity::Error {
            finding.severity = Severity::Doubt;
            finding.message = format!(
                "{}; the recording {} was left out",
                finding.message, spec.name
            );
        }
    }
    findings
}

fn channels(raw: &RawRecording, spec: &RecordingSpec) -> Vec<String> {
    raw.channels
        .iter()
        .filter_map(|channel| {
            let quantity = spec.channels.get(channel.channel)?.quantity;
            Some(format!(
                "{} ({}, {})",
                quantity.word(),
                channel.column,
                channel.unit.symbol
            ))
        })
        .collect()
}

/// Files named in columns that the rig knows nothing of.
fn unclaimed<'f>(rig: &'f Rig, run: &'f RunRow) -> impl Iterator<Item = Finding> + 'f {
    let known = || rig.recordings.iter().map(|spec| spec.trace_column.as_str());
    let unknown = run
        .further
        .keys()
        .filter(move |column| !known().any(|name| name == column.as_str()));
    unknown.map(move |column| {
        Finding::doubt(
            "trace-column-unknown",
            format!("the rig {} has no [[recording]] for the column {column}; the file it names was not read", rig.file),
        )
        .at(Place::cell(&run.file, run.line, column))
        .help(suggest(column, known()).map_or_else(
            || format!("add a [[recording]] with trace_column = \"{column}\" to the rig"),
            |near| format!("did you mean \"{near}\"?"),
        ))
    })
}
