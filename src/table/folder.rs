//! Writing an output folder so that a killed run leaves the old result or none.
//!
//! Everything is written beside its place first. Then the old `results.json` goes, the other files move in, and the new
//! `results.json` moves in last: a folder with a `results.json` is always whole. Files of others in the folder are left alone.

use std::fs;
use std::path::{Path, PathBuf};

/// File that marks a whole result.
const MARK: &str = "results.json";
/// Folder of the plots.
const PLOTS: &str = "plots";
/// The page, which is not part of every result.
const PAGE: &str = "report.html";

/// Name of the folder in which a process puts a result together; its number follows.
const PARTIAL: &str = ".hooptrace-partial-";
/// Where the system lists the processes that live, by number (Linux); elsewhere nobody can be told dead.
const PROCESSES: &str = "/proc";

/// A file to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Output {
    /// Path inside the output folder, with `/` between its parts.
    pub path: String,
    /// Content.
    pub bytes: Vec<u8>,
}

/// Why an output folder could not be written.
#[derive(Debug)]
pub struct WriteError {
    /// What was touched.
    pub path: PathBuf,
    /// The system's reason.
    pub source: std::io::Error,
}

impl std::fmt::Display for WriteError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "cannot write {}: {}", self.path.display(), self.source)
    }
}

impl std::error::Error for WriteError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        Some(&self.source)
    }
}

fn at<T>(path: &Path, result: std::io::Result<T>) -> Result<T, WriteError> {
    result.map_err(|source| WriteError {
        path: path.to_owned(),
        source,
    })
}

/// Writes the files into a folder, which is made if need be.
///
/// # Errors
///
/// The first file or folder that could not be written; what was written beside is taken away again.
pub fn write_folder(folder: &Path, outputs: &[Output]) -> Result<(), WriteError> {
    at(folder, fs::create_dir_all(folder))?;
    clear_dead(folder);
    let beside = folder.join(format!("{PARTIAL}{}", std::process::id()));
    let written = stage(&beside, outputs).and_then(|()| move_in(folder, &beside, outputs));
    // Whether or not it went well, nothing half written stays.
    let cleared = if beside.exists() {
        at(&beside, fs::remove_dir_all(&beside))
    } else {
        Ok(())
    };
    written.and(cleared)
}

/// Takes away what killed runs left half put together. That it cannot be taken away is no trouble of this result.
fn clear_dead(folder: &Path) {
    let Ok(listing) = fs::read_dir(folder) else {
        return;
    };
    for entry in listing.flatten() {
        let left = entry.file_name().to_str().is_some_and(is_of_dead);
        // A link of this name is nothing that a run made.
        if left && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

/// True for exactly the name that a process gives which lives no more.
fn is_of_dead(name: &str) -> bool {
    let Some(number) = name
        .strip_prefix(PARTIAL)
        .and_then(|n| n.parse::<u32>().ok())
    else {
        return false;
    };
    let processes = Path::new(PROCESSES);
    name == format!("{PARTIAL}{number}")
        && processes.join(std::process::id().to_string()).is_dir()
        && !processes.join(number.to_string()).exists()
}

fn stage(beside: &Path, outputs: &[Output]) -> Result<(), WriteError> {
    for output in outputs {
        let path = beside.join(&output.path);
        if let Some(parent) = path.parent() {
            at(parent, fs::create_dir_all(parent))?;
        }
        at(&path, fs::write(&path, &output.bytes))?;
    }
    Ok(())
}

fn move_in(folder: &Path, beside: &Path, outputs: &[Output]) -> Result<(), WriteError> {
    let mark = folder.join(MARK);
    let had_result = mark.exists();
    if had_result {
        at(&mark, fs::remove_file(&mark))?;
    }
    let (plots, page) = (folder.join(PLOTS), folder.join(PAGE));
    // Plots and page of an earlier result would mix with the new ones; a folder without a result is not ours to clear.
    if had_result && plots.exists() {
        at(&plots, fs::remove_dir_all(&plots))?;
    }
    if had_result && page.exists() {
        at(&page, fs::remove_file(&page))?;
    }
    for output in outputs
        .iter()
        .filter(|o| o.path != MARK)
        .chain(outputs.iter().filter(|o| o.path == MARK))
    {
        let (from, to) = (beside.join(&output.path), folder.join(&output.path));
        if let Some(parent) = to.parent() {
            at(parent, fs::create_dir_all(parent))?;
        }
        at(&to, fs::rename(&from, &to))?;
    }
    Ok(())
}
