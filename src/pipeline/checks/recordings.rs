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
    for (run, recorded) in runs.iter().zip(facts.recordings) {
        let main = recorded.main.iter().zip(&run.trace);
        let files = main.map(|(input, path)| ("trace", input, path)).chain(
            recorded.further.iter().filter_map(|(column, input)| {
                Some((column.as_str(), input, run.further.get(column)?))
            }),
        );
        for (column, input, path) in files {
            // Two empty files are no copies of each other.
            if input.bytes == 0 {
                continue;
            }
            match seen.get(input.sha256.as_str()) {
                // Two parts of one file are no copies either.
                Some((first, other)) if *other != plain(&input.path) => findings.push(at_run(
                    Finding::doubt(
                        "recording-copied",
                        format!(
                            "{path} is byte for byte the recording of run {} ({other})",
                            first.run_id
                        ),
                    )
                    .help("one of them is a copy under a wrong name: look for the recording that is missing"),
                    run,
                    column,
                )),
                Some(_) => {}
                None => {
                    seen.insert(&input.sha256, (run, plain(&input.path)));
                }
            }
        }
    }
    // A recorder that went on over several runs has one file for all of them, but no file is the main recording and a further one.
    let mut further = BTreeSet::new();
    for run in runs {
        for (column, path) in &run.further {
            if let Some(other) = named.get(&plain(path)) {
                findings.push(at_run(
                    Finding::doubt(
                        "recording-shared",
                        format!(
                            "{path} is the main recording of the run {} too",
                            other.run_id
                        ),
                    )
                    .help(format!("name the file of the other recorder in {column}")),
                    run,
                    column,
                ));
            }
            further.insert(plain(path));
        }
    }
    // What is read of a file may be a part of it, whose name is longer.
    let read: BTreeSet<String> = facts
        .recordings
        .iter()
        .flat_map(|recorded| {
            let further = recorded.further.iter().map(|(_, input)| input);
            recorded.main.iter().chain(further)
        })
        .map(|input| plain(&input.path))
        .collect();
    let unused = |file: &&String| {
        !named.contains_key(*file) && !further.contains(*file) && !read.contains(*file)
    };
    for file in facts.files.iter().filter(unused) {
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
