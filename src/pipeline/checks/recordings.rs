//! Recordings against the runs that name them.

use super::{Facts, at_run};
use crate::recording::{Finding, Place, RunRow};
use std::collections::{BTreeMap, BTreeSet};

/// Files nobody names, files two runs name, and two files with the same bytes.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    let runs = &facts.tables.runs;
    let mut named: BTreeMap<String, &RunRow> = BTreeMap::new();
    for run in runs {
        let Some(trace) = &run.trace else { continue };
        if let Some(first) = named.get(&plain(trace)) {
            findings.push(at_run(
                Finding::doubt(
                    "recording-shared",
                    format!("the run {} names the same recording {trace}", first.run_id),
                )
                .help("each run has a recording of its own: correct trace in one of them"),
                run,
                "trace",
            ));
        } else {
            named.insert(plain(trace), run);
        }
    }
    let mut seen: BTreeMap<&str, (&RunRow, String)> = BTreeMap::new();
    for (run, recording) in runs.iter().zip(facts.recordings) {
        let (Some(recording), Some(trace)) = (recording, &run.trace) else {
            continue;
        };
        // Two empty files are no copies of each other.
        if recording.bytes == 0 {
            continue;
        }
        match seen.get(recording.sha256.as_str()) {
            // Two parts of one file.
            Some((first, path)) if *path != plain(&recording.path) => findings.push(at_run(
                Finding::doubt(
                    "recording-copied",
                    format!(
                        "{trace} is byte for byte the recording of run {} ({path})",
                        first.run_id
                    ),
                )
                .help("one of them is a copy under a wrong name: look for the recording that is missing"),
                run,
                "trace",
            )),
            Some(_) => {}
            None => {
                seen.insert(&recording.sha256, (run, plain(&recording.path)));
            }
        }
    }
    // What is read of a file may be a part of it, whose name is longer.
    let read: BTreeSet<String> = facts
        .recordings
        .iter()
        .flatten()
        .map(|recording| plain(&recording.path))
        .collect();
    let is_named = |file: &&String| named.contains_key(*file) || read.contains(*file);
    for file in facts.files.iter().filter(|file| !is_named(file)) {
        findings.push(
            Finding::note("recording-unused", "no run names this recording")
                .at(Place::file(file))
                .help("list its run in runs.csv; a run that failed belongs there too"),
        );
    }
    findings
}

/// A path without the detours a table may write: `./traces//a.csv` is `traces/a.csv`.
fn plain(path: &str) -> String {
    let mut parts: Vec<&str> = Vec::new();
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop();
            }
            _ => parts.push(part),
        }
    }
    parts.join("/")
}

#[cfg(test)]
mod tests {
    #[test]
    fn detours_of_a_path_count_for_nothing() {
        assert_eq!(super::plain("./traces//x/../a.csv"), "traces/a.csv");
    }
}
