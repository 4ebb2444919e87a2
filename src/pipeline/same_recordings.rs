//! Recordings that count more than once: a file that several runs name, or the same bytes under different names.

use crate::recording::{Finding, Input, Place};
use std::collections::{BTreeMap, BTreeSet};

/// A doubt for every recording that stands under more than one name or run; runs by name and file. Parts of one file are no copies.
pub(super) fn same_recordings<'r>(
    runs: impl IntoIterator<Item = (&'r str, Option<&'r str>)>,
    inputs: &[Input],
) -> Vec<Finding> {
    let runs: Vec<(&str, Option<&str>)> = runs.into_iter().collect();
    let mut told = shared(&runs);
    told.extend(copies(&runs, inputs));
    told
}

/// Runs that name the same recording, and the same part of it.
fn shared(runs: &[(&str, Option<&str>)]) -> Vec<Finding> {
    let mut by_trace: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for &(run_id, trace) in runs {
        let trace = trace.filter(|trace| !trace.is_empty());
        by_trace
            .entry(trace.unwrap_or_default())
            .or_default()
            .push(run_id);
    }
    by_trace.remove("");
    by_trace.retain(|_, runs| runs.len() > 1);
    let found = by_trace.into_iter();
    found
        .map(|(trace, runs)| {
            Finding::doubt(
                SAME,
                format!("{trace} is the recording of several runs: {}", runs.join(", ")),
            )
            .at(Place::file(trace))
            .effect("it counts once for each of them: shares, limits and tests take one frame for several")
            .help("a recording counts once: name the file of each run, or take the copies out of runs.csv")
        })
        .collect()
}

const SAME: &str = "same-recording";

fn copies(runs: &[(&str, Option<&str>)], inputs: &[Input]) -> Vec<Finding> {
    let by_path: BTreeMap<&str, &Input> = inputs.iter().map(|i| (i.path.as_str(), i)).collect();
    let mut copies: BTreeMap<&str, BTreeMap<&str, &str>> = BTreeMap::new();
    for &(run_id, trace) in runs {
        let input = trace.and_then(|path| by_path.get(path));
        if let Some(input) = input.filter(|input| input.bytes > 0) {
            let names = copies.entry(&input.sha256).or_default();
            names.entry(&input.path).or_insert(run_id);
        }
    }
    copies.retain(|_, names| names.len() > 1);
    let found: BTreeSet<Vec<(&str, &str)>> = copies
        .into_values()
        .map(|names| names.into_iter().collect())
        .collect();
    found
        .into_iter()
        .map(|names| {
            let files: Vec<&str> = names.iter().map(|(path, _)| *path).collect();
            let runs: Vec<&str> = names.iter().map(|(_, run)| *run).collect();
            Finding::doubt(
                SAME,
                format!(
                    "{} hold the same bytes: the runs {} are one recording",
                    files.join(", "),
                    runs.join(", ")
                ),
            )
            .at(Place::file(files.first().copied().unwrap_or_default()))
            .help("a recording counts once: name the file of each run, or take the copies out of runs.csv")
        })
        .collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn input(path: &str, sha256: &str) -> Input {
        Input {
            path: path.to_owned(),
            sha256: sha256.to_owned(),
            bytes: 10,
        }
    }

    #[test]
    fn copies_are_told_and_parts_are_not() {
        let inputs = [
            input("a.csv", "1"),
            input("b.csv", "2"),
            input("c.csv", "1"),
        ];
        let mut runs = vec![
            ("one", Some("a.csv")),
            ("two", Some("b.csv")),
            ("part", Some("a.csv#2")),
            ("none", None),
        ];
        assert!(same_recordings(runs.clone(), &inputs).is_empty());
        runs.push(("again", Some("b.csv")));
        let told = same_recordings(runs.clone(), &inputs);
        assert_eq!(told.len(), 1);
        assert!(told[0].message.contains("two, again"), "{}", told[0]);
        runs.pop();
        runs.push(("copy", Some("c.csv")));
        let told = same_recordings(runs, &inputs);
        assert_eq!(told.len(), 1);
        let told = &told[0];
        assert!(
            told.message.contains("a.csv, c.csv") && told.message.contains("one, copy"),
            "{told}"
        );
    }
}
