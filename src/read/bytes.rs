//! A file as bytes, and its fingerprint.

use crate::recording::{Finding, Input, Place};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// A recording larger than this is refused, bytes: hours at 20 kHz fit, and memory stays bounded.
pub const MAX_BYTES: u64 = 2 << 30;
/// A fingerprint is taken in pieces of so many bytes.
const PIECE: usize = 1 << 18;

/// The bytes of a file.
///
/// # Errors
/// An error finding naming the file where it is missing, unreadable, not a plain file or larger than [`MAX_BYTES`].
pub fn read_bytes(path: &Path, shown_as: &str) -> Result<Vec<u8>, Finding> {
    let file = open(path, shown_as)?;
    let size = file.metadata().map_or(0, |about| about.len());
    let mut bytes = Vec::with_capacity(usize::try_from(size).unwrap_or(0) + 1);
    // A file that grows while it is read still ends.
    file.take(MAX_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| unreadable(shown_as, &error))?;
    if bytes.len() as u64 > MAX_BYTES {
        return Err(too_large(shown_as, bytes.len() as u64));
    }
    Ok(bytes)
}

/// Path, size and SHA-256 of a file, for the list of inputs; the file is read piece by piece.
///
/// # Errors
/// As [`read_bytes`].
pub fn fingerprint(path: &Path, shown_as: &str) -> Result<Input, Finding> {
    fingerprint_of(open(path, shown_as)?, shown_as)
}

/// The same of a file already open.
///
/// # Errors
/// As [`read_bytes`].
pub(super) fn fingerprint_of(mut file: impl Read, shown_as: &str) -> Result<Input, Finding> {
    let mut digest = Sha256::new();
    let mut piece = vec![0; PIECE];
    let mut bytes = 0_u64;
    loop {
        let read = match file.read(&mut piece) {
            Ok(0) => break,
            Ok(read) => read,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(unreadable(shown_as, &error)),
        };
        digest.update(piece.get(..read).unwrap_or_default());
        bytes += read as u64;
        if bytes > MAX_BYTES {
            return Err(too_large(shown_as, bytes));
        }
    }
    Ok(Input {
        path: shown_as.to_owned(),
        sha256: hexadecimal(&digest.finalize()),
        bytes,
    })
}

/// The entry of a file already read in the list of inputs.
pub(super) fn input(bytes: &[u8], shown_as: &str) -> Input {
    Input {
        path: shown_as.to_owned(),
        sha256: sha256(bytes),
        bytes: bytes.len() as u64,
    }
}

/// SHA-256 in lower-case hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes
        .iter()
        .fold(String::with_capacity(64), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
}

/// Opens a plain file of at most [`MAX_BYTES`].
///
/// # Errors
/// An error finding naming the file.
pub(super) fn open(path: &Path, shown_as: &str) -> Result<File, Finding> {
    let about = std::fs::metadata(path).map_err(|error| {
        fault(
            shown_as,
            format!("cannot open {shown_as}: {error}"),
            "check the path, its case and the rights of the file",
        )
    })?;
    if !about.is_file() {
        return Err(fault(
            shown_as,
            format!("{shown_as} is not a plain file"),
            "name the file itself, not a folder or a device",
        ));
    }
    if about.len() > MAX_BYTES {
        return Err(too_large(shown_as, about.len()));
    }
    File::open(path).map_err(|error| {
        fault(
            shown_as,
            format!("cannot open {shown_as}: {error}"),
            "check the rights of the file",
        )
    })
}

fn fault(shown_as: &str, message: String, help: &str) -> Finding {
    Finding::error("file-unreadable", message)
        .at(Place::file(shown_as))
        .help(help)
}

fn too_large(shown_as: &str, bytes: u64) -> Finding {
    fault(
        shown_as,
        format!("{shown_as} has at least {bytes} bytes; at most {MAX_BYTES} are read"),
        "cut the recording to the run, or export it at a lower rate",
    )
}

/// The error for a file that cannot be read to its end.
pub(super) fn unreadable(shown_as: &str, error: &std::io::Error) -> Finding {
    fault(
        shown_as,
        format!("cannot read {shown_as}: {error}"),
        "copy the file to a sound disk and try again",
    )
}
