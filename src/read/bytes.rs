//! A file as bytes, read once, with its fingerprint.

use crate::recording::{Finding, Input, Place};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::io::Read;
use std::path::Path;

/// A recording larger than this is refused, bytes: hours at 20 kHz fit, and memory stays bounded.
pub const MAX_BYTES: u64 = 2 << 30;

/// The bytes of a file, with path, size and SHA-256 for the list of inputs.
///
/// # Errors
/// An error finding naming the file where it is missing, unreadable, not a plain file or larger than [`MAX_BYTES`].
pub fn read_bytes(path: &Path, shown_as: &str) -> Result<(Vec<u8>, Input), Finding> {
    let fault = |message: String, help: &str| {
        Finding::error("file-unreadable", message)
            .at(Place::file(shown_as))
            .help(help)
    };
    let about = std::fs::metadata(path).map_err(|error| {
        fault(
            format!("cannot open {shown_as}: {error}"),
            "check the path, its case and the rights of the file",
        )
    })?;
    if !about.is_file() {
        return Err(fault(
            format!("{shown_as} is not a plain file"),
            "name the file itself, not a folder or a device",
        ));
    }
    let too_large = |bytes: u64| {
        fault(
            format!("{shown_as} has at least {bytes} bytes; at most {MAX_BYTES} are read"),
            "cut the recording to the run, or export it at a lower rate",
        )
    };
    if about.len() > MAX_BYTES {
        return Err(too_large(about.len()));
    }
    let file = std::fs::File::open(path).map_err(|error| {
        fault(
            format!("cannot open {shown_as}: {error}"),
            "check the rights of the file",
        )
    })?;
    let mut bytes = Vec::with_capacity(usize::try_from(about.len()).unwrap_or(0) + 1);
    // A file that grows while it is read still ends.
    file.take(MAX_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| {
            fault(
                format!("cannot read {shown_as}: {error}"),
                "copy the file to a sound disk and try again",
            )
        })?;
    if bytes.len() as u64 > MAX_BYTES {
        return Err(too_large(bytes.len() as u64));
    }
    let input = Input {
        path: shown_as.to_owned(),
        sha256: sha256(&bytes),
        bytes: bytes.len() as u64,
    };
    Ok((bytes, input))
}

/// Path, size and SHA-256 of a file, for the list of inputs.
///
/// # Errors
/// As [`read_bytes`].
pub fn fingerprint(path: &Path, shown_as: &str) -> Result<Input, Finding> {
    read_bytes(path, shown_as).map(|(_, input)| input)
}

/// SHA-256 in lower-case hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .fold(String::with_capacity(64), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
}
