//! Further recordings of a run: read, put on the main clock, or left out with a finding.

use super::{Attempt, Study};
use crate::calibrate::sync::{Further, attach};
use crate::read;
use crate::recording::{Finding, Place, RunRow, Severity, Trace, suggest};
use crate::rig::{RecordingSpec, Rig};

/// Adds what the further recordings of a run hold to its trace; what went wrong is a doubt, because the run stands without them.
/// Returns their channels in words.
pub(super) fn add(
    study: &Study,
    rig: &Rig,
    run: &RunRow,
    main_started_at: Option<&str>,
    trace: &mut Trace,
    attempt: &mut Attempt,
) -> Vec<String> {
    attempt.findings.extend(unclaimed(rig, run));
    let mut words = Vec::new();
    for spec in &rig.recordings {
        let Some(file) = run.further.get(&spec.trace_column) else {
            attempt.findings.push(
                Finding::note(
                    "no-further-recording",
                    format!("the run names no file of the recording {}", spec.name),
                )
                .at(Place::cell(&run.file, run.line, &spec.trace_column)),
            );
            continue;
        };
        let path = study.folder.join(file);
        match read::read_trace(&path, file, &spec.rig(rig)) {
            Err(findings) => {
                attempt.inputs.extend(read::fingerprint(&path, file));
                attempt.findings.extend(left_out(spec, findings));
            }
            Ok(raw) => {
                attempt.inputs.extend(raw.input.clone());
                attempt.findings.extend(raw.findings.iter().cloned());
                let further = Further {
                    raw: &raw,
                    spec,
                    bench: rig,
                    main_started_at,
                };
                attempt.findings.extend(attach(trace, &further, run));
                words.extend(channels(&raw, spec));
            }
        }
    }
    words
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

fn channels(raw: &crate::recording::RawRecording, spec: &RecordingSpec) -> Vec<String> {
    let known = |c: &crate::recording::RawChannel| {
        let quantity = spec.channels.get(c.channel)?.quantity;
        Some(format!(
            "{} ({}, {}, {})",
            quantity.word(),
            spec.name,
            c.column,
            c.unit.symbol
        ))
    };
    raw.channels.iter().filter_map(known).collect()
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
