//! One part of a file: `traces/day.csv#2` is the second acquisition of that file, `traces/day.xlsx#hr03` its sheet `hr03`.

use crate::rig::{DialectSpec, SheetRef};
use std::path::{Path, PathBuf};

/// Which part of a file is meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Part {
    /// An acquisition by its number, counted from 1.
    Acquisition(usize),
    /// A sheet by its name.
    Sheet(String),
}

/// The file of a path as shown, and what stands behind its `#`, if anything does.
pub(crate) fn split_part(shown: &str) -> (&str, Option<Part>) {
    let Some((file, part)) = shown.rsplit_once('#') else {
        return (shown, None);
    };
    // A folder may have the sign in its name.
    if file.is_empty() || part.trim().is_empty() || part.contains(['/', '\\']) {
        return (shown, None);
    }
    let part = part.trim();
    match part.parse() {
        Ok(number) => (file, Some(Part::Acquisition(number))),
        Err(_) => (file, Some(Part::Sheet(part.to_owned()))),
    }
}

/// What a rig declares of its files, with the sheet that is meant.
pub(crate) fn with_sheet(mut spec: DialectSpec, part: Option<&Part>) -> DialectSpec {
    if let Some(Part::Sheet(name)) = part {
        spec.sheet = Some(SheetRef::Name(name.clone()));
    }
    spec
}

/// The file of a recording as the trace column names it: without the part behind its `#`.
pub fn file_of(folder: &Path, trace: &str) -> String {
    file_and_part(&folder.join(trace), trace).1
}

/// The file to open and the part of it that is meant. A file whose own name holds the sign is taken whole.
pub(crate) fn file_and_part(path: &Path, shown_as: &str) -> (PathBuf, String, Option<Part>) {
    let whole = || (path.to_owned(), shown_as.to_owned(), None);
    if path.exists() {
        return whole();
    }
    let Some(text) = path.to_str() else {
        return whole();
    };
    match (split_part(text), split_part(shown_as)) {
        ((file, Some(part)), (shown, _)) => (PathBuf::from(file), shown.to_owned(), Some(part)),
        _ => whole(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_stands_behind_the_last_sign() {
        for (text, file, part) in [
            ("a.csv", "a.csv", None),
            ("a.csv#2", "a.csv", Some(Part::Acquisition(2))),
            (
                "a#1.xlsx#Run 2",
                "a#1.xlsx",
                Some(Part::Sheet("Run 2".to_owned())),
            ),
            ("day#1/a.csv", "day#1/a.csv", None),
            ("a.csv#", "a.csv#", None),
            ("#2", "#2", None),
        ] {
            assert_eq!(split_part(text), (file, part), "{text}");
        }
    }
}
