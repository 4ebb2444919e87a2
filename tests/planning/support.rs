//! The larger sample study, analysed once, and the program to run.

use super::folder::copy;
use hooptrace::pipeline::{Options, analyse, open_study};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use tempfile::TempDir;

/// Results of a study folder as `results.json` holds them.
pub fn results_of(folder: &Path) -> Vec<u8> {
    let study = open_study(folder).unwrap();
    let analysed = analyse(&study, &Options::default(), &|_, _| {}).unwrap();
    let results = analysed.outputs.into_iter();
    results
        .filter(|output| output.path == "results.json")
        .map(|output| output.bytes)
        .next()
        .unwrap()
}

pub fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs/harbour-ring")
}

/// The results of the larger sample study.
pub fn harbour() -> &'static [u8] {
    static RESULTS: OnceLock<Vec<u8>> = OnceLock::new();
    RESULTS.get_or_init(|| results_of(&sample()))
}

pub fn harbour_json() -> Value {
    serde_json::from_slice(harbour()).unwrap()
}

/// A copy of the larger sample study, changed.
pub fn changed(change: impl Fn(&Path)) -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    copy(&sample(), folder.path());
    change(folder.path());
    results_of(folder.path())
}

/// Output folders of these results, named `0`, `1` and so on.
pub fn folders(results: &[&[u8]]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (at, bytes) in results.iter().enumerate() {
        let out = folder.path().join(at.to_string());
        fs::create_dir(&out).unwrap();
        fs::write(out.join("results.json"), bytes).unwrap();
    }
    folder
}

/// Exit status, what was printed and what was complained of.
pub fn run(folder: &Path, words: &[&str]) -> (i32, String, String) {
    let ended = Command::new(env!("CARGO_BIN_EXE_hooptrace"))
        .args(words)
        .current_dir(folder)
        .output()
        .unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (
        ended.status.code().unwrap(),
        text(ended.stdout),
        text(ended.stderr),
    )
}
