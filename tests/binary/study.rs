//! A copy of the small sample study to do harm to, and the program to run on it.

use super::folder::copy;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// A folder with a copy of the sample study in it, from which the program is run.
pub struct Bench {
    pub folder: TempDir,
}

/// What a run of the program ended with.
pub struct Ended {
    pub status: i32,
    pub stdout: String,
    pub stderr: String,
}

impl Bench {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs/first-look");
        copy(&sample, &folder.path().join("study"));
        Self { folder }
    }

    pub fn path(&self, inside: &str) -> PathBuf {
        self.folder.path().join(inside)
    }

    pub fn read(&self, inside: &str) -> String {
        fs::read_to_string(self.path(inside)).unwrap()
    }

    pub fn write(&self, inside: &str, text: &str) {
        fs::write(self.path(inside), text).unwrap();
    }

    /// Puts one piece of text in place of another, which must be there.
    pub fn change(&self, inside: &str, from: &str, to: &str) {
        let text = self.read(inside);
        assert!(text.contains(from), "{inside} holds no {from:?}");
        self.write(inside, &text.replacen(from, to, 1));
    }

    /// The program with these words, to be run in the folder.
    pub fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_hooptrace"));
        command.args(words).current_dir(self.folder.path());
        command
    }

    pub fn run(&self, words: &[&str]) -> Ended {
        let Output {
            status,
            stdout,
            stderr,
        } = self.command(words).output().unwrap();
        Ended {
            // No code means a signal, which no run may end with.
            status: status.code().unwrap(),
            stdout: String::from_utf8(stdout).unwrap(),
            stderr: String::from_utf8(stderr).unwrap(),
        }
    }

    /// `analyse study --out out` with more words; the status must be this one.
    pub fn analyse(&self, more: &[&str], status: i32) -> Ended {
        let words = [&["analyse", "study", "--out", "out"], more].concat();
        let ended = self.run(&words);
        assert_eq!(ended.status, status, "{words:?}: {}", ended.stderr);
        ended
    }

    pub fn results(&self) -> serde_json::Value {
        serde_json::from_str(&self.read("out/results.json")).unwrap()
    }

    /// Outcome of each run in `out/results.json`.
    pub fn outcomes(&self) -> Vec<(String, String)> {
        let results = self.results();
        let text = |value: &serde_json::Value| value.as_str().unwrap().to_owned();
        let runs = results["runs"].as_array().unwrap();
        runs.iter()
            .map(|run| (text(&run["run_id"]), text(&run["outcome"])))
            .collect()
    }
}

/// Every file below a folder, by its path from there.
pub fn files_below(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_path_buf();
                files.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    files
}
