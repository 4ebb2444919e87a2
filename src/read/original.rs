//! The file a recording was read from, for its fingerprint.

use super::body::FromStart;
use super::bytes::{fingerprint, fingerprint_of};
use crate::recording::{Finding, Input};
use std::fs::File;
use std::path::Path;

/// The very bytes a recording was read from, also where another file has taken its name meanwhile. Hashing a large file takes as long as
/// reading it, so that it can be done beside other work.
pub struct Original(Kept);

enum Kept {
    Hashed(Input),
    Open {
        file: File,
        size: u64,
        shown_as: String,
    },
}

impl Original {
    /// Bytes that were hashed already.
    pub(super) fn hashed(input: Input) -> Self {
        Self(Kept::Hashed(input))
    }

    /// The first `size` bytes of an open file.
    pub(super) fn open(file: File, size: u64, shown_as: &str) -> Self {
        Self(Kept::Open {
            file,
            size,
            shown_as: shown_as.to_owned(),
        })
    }

    /// A file that was not read as a recording.
    ///
    /// # Errors
    /// An error finding naming the file.
    pub fn of(path: &Path, shown_as: &str) -> Result<Self, Finding> {
        fingerprint(path, shown_as).map(Self::hashed)
    }

    /// Path, size and SHA-256.
    ///
    /// # Errors
    /// An error finding naming the file, where it can no longer be read.
    pub fn fingerprint(&self) -> Result<Input, Finding> {
        match &self.0 {
            Kept::Hashed(input) => Ok(input.clone()),
            Kept::Open {
                file,
                size,
                shown_as,
            } => fingerprint_of(FromStart::of(file, *size), shown_as),
        }
    }
}
