//! The names of the files in a folder of a study.

use crate::recording::{Finding, Place};
use std::path::Path;

/// So many files are listed; a folder of more holds something else than recordings.
const MOST_FILES: usize = 100_000;
/// Folders within folders are gone into so deep.
const DEEPEST: usize = 8;

/// Every plain file below a folder of a study, by its path from the study folder, sorted. Links are not followed, and names that
/// begin with a dot are left out. A folder that is not there holds none.
///
/// # Errors
/// An error finding where a folder cannot be listed.
pub fn files_below(study: &Path, folder: &str) -> Result<Vec<String>, Finding> {
    let mut files = Vec::new();
    let mut open = vec![(folder.to_owned(), 0)];
    while let Some((inside, depth)) = open.pop() {
        let path = study.join(&inside);
        // A link may lead out of the study.
        if !std::fs::symlink_metadata(&path).is_ok_and(|about| about.is_dir()) {
            continue;
        }
        let listing = std::fs::read_dir(&path).map_err(|error| {
            Finding::error("file-unreadable", format!("cannot list {inside}: {error}"))
                .at(Place::file(&inside))
                .help("check the rights of the folder")
        })?;
        for entry in listing.flatten() {
            let (Ok(kind), Some(name)) = (
                entry.file_type(),
                entry.file_name().to_str().map(str::to_owned),
            ) else {
                continue;
            };
            if name.starts_with('.') {
                continue;
            }
            let path = format!("{inside}/{name}");
            if kind.is_dir() && depth < DEEPEST {
                open.push((path, depth + 1));
            } else if kind.is_file() && files.len() < MOST_FILES {
                files.push(path);
            }
        }
    }
    files.sort();
    Ok(files)
}
