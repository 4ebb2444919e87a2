//! What must hold whatever the bytes were.

use hooptrace::recording::{Finding, RawRecording, Severity, Trace};
use std::path::{Component, Path};

/// Every finding has words and names one of these files; where something was refused, one is an error.
pub fn check_findings(findings: &[Finding], files: &[&str], refused: bool) {
    for finding in findings {
        assert!(
            !finding.message.is_empty() && !finding.code.is_empty(),
            "{finding:?}"
        );
        assert!(
            finding
                .file
                .as_deref()
                .is_some_and(|file| files.contains(&file)),
            "names none of {files:?}: {finding:?}"
        );
        assert!(finding.line != Some(0), "lines count from 1: {finding:?}");
    }
    assert!(
        !refused
            || findings
                .iter()
                .any(|finding| finding.severity == Severity::Error),
        "refused without an error: {findings:?}"
    );
}

/// A path of a study leads nowhere else.
pub fn check_inside(path: &str) {
    let mut depth = 0;
    for part in Path::new(path).components() {
        match part {
            Component::Normal(_) => depth += 1,
            Component::ParentDir => depth -= 1,
            Component::CurDir => {}
            Component::RootDir | Component::Prefix(_) => depth = -1,
        }
        assert!(depth >= 0, "leaves the study: {path:?}");
    }
    assert!(!path.contains('\0'), "{path:?}");
}

/// As many times, lines and values; lines rise; channels hold something.
pub fn check_recording(recording: &RawRecording) {
    let rows = recording.line.len();
    assert!(rows > 0);
    assert_eq!(recording.time_s.len(), rows);
    assert_eq!(recording.summary.rows, rows);
    let lines: Vec<u64> = recording.line.iter().collect();
    assert_eq!(lines.len(), rows);
    assert!(lines[0] > 0);
    assert!(lines.windows(2).all(|pair| pair[0] < pair[1]));
    assert!(recording.restarts.iter().all(|row| *row <= rows));
    for channel in &recording.channels {
        assert_eq!(channel.values.len(), rows, "{}", channel.column);
        assert!(channel.values.iter().all(|value| !value.is_infinite()));
    }
}

/// Time sorted strictly, every vector as long as the others, every sample from a row of the recording.
pub fn check_trace(trace: &Trace, recording: &RawRecording) {
    let length = trace.len();
    assert!(length >= 3);
    assert!(trace.time_s.iter().all(|time| time.is_finite()));
    assert!(
        trace.time_s.windows(2).all(|pair| pair[0] < pair[1]),
        "time is not sorted strictly"
    );
    assert!(trace.step_s > 0.0, "{}", trace.step_s);
    assert_eq!(trace.row.len(), length);
    assert_eq!(trace.line.len(), length);
    assert_eq!(trace.pressure_kpa.len(), length);
    assert_eq!(trace.clipped.len(), length);
    for channel in [
        &trace.volume_ml,
        &trace.diameter_mm,
        &trace.sound,
        &trace.force_n,
        &trace.temperature_degc,
    ]
    .into_iter()
    .flatten()
    {
        assert_eq!(channel.len(), length);
    }
    for (row, line) in trace.row.iter().zip(trace.line.iter()) {
        assert_eq!(recording.line.get(row as usize), Some(line));
    }
    assert!(trace.handover.is_none_or(|at| at < length));
}
