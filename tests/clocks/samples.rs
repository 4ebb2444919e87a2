//! Recordings of the sample studies: runs of one operator are like each other, and yet no two are one.

use super::made_up::signal;
use hooptrace::calibrate::sync::{Search, correlate};
use rayon::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};

/// Every second sample of time and pressure, from this one on.
fn half(path: &Path, from: usize) -> (Vec<f64>, Vec<f64>) {
    let text = fs::read_to_string(path).unwrap();
    let cell = |line: &str, k: usize| -> Option<f64> {
        line.split(',').nth(k).and_then(|c| c.parse().ok())
    };
    let rows = text.lines().skip(1 + from).step_by(2);
    rows.filter_map(|line| Some((cell(line, 0)?, cell(line, 1)?)))
        .unzip()
}

/// Recordings with the time in the first column and the pressure in the second.
fn recordings() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs");
    let mut found = Vec::new();
    for study in ["first-look", "harbour-ring"] {
        for entry in fs::read_dir(root.join(study).join("traces")).unwrap() {
            let path = entry.unwrap().path();
            if fs::read(&path).unwrap().starts_with(b"Time [s],Pressure") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// The even samples of a run lie on the clock of its odd ones; of all pairs of two runs at most one is put together. (272
/// pairs: with a rate of 1.7 % so few would come in 5 % of all surveys, binomial.)
#[test]
fn runs_of_one_operator_are_told_apart() {
    let paths = recordings();
    let search = Search {
        drift: true,
        ..Search::default()
    };
    let pairs: Vec<(&PathBuf, &PathBuf)> = paths
        .iter()
        .flat_map(|a| paths.iter().map(move |b| (a, b)))
        .collect();
    let found: Vec<_> = pairs
        .par_iter()
        .map(|(a, b)| correlate(signal(&half(a, 0)), signal(&half(b, 1)), search))
        .collect();
    let (mut locks, mut others) = (Vec::new(), 0);
    for ((a, b), found) in pairs.iter().zip(found) {
        if a != b {
            others += 1;
            locks.extend(found.ok().map(|line| (a, b, line)));
            continue;
        }
        let line = found.unwrap_or_else(|reason| panic!("{}: {reason}", a.display()));
        let off = line.offset_s / line.u_offset_s;
        assert!(off.abs() < 4.0, "{}: {line:?}", a.display());
    }
    assert!(others > 200 && locks.len() <= 1, "{locks:?}");
}
