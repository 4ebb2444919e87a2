//! Bytes as text: byte order marks, UTF-16 with and without, Latin-1, padding, and what is no text at all.

use crate::recording::{Finding, Place};
use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// Text with how it was encoded and what was doubtful about it.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Decoded {
    /// The text.
    pub text: String,
    /// Name of the encoding.
    pub encoding: String,
    /// Doubts.
    pub findings: Vec<Finding>,
}

/// So many bytes are looked at to tell text from the rest.
const HEAD: usize = 8192;
/// Share of control characters from which bytes are no text.
const MAX_CONTROL: f64 = 0.02;

/// First bytes of files that labs mistake for tables, and what they are.
const MAGIC: &[(&[u8], &str)] = &[
    (b"\x1f\x8b", "gzip data"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"II*\0", "a TIFF picture"),
    (b"MM\0*", "a TIFF picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"\xd0\xcf\x11\xe0", "an OLE document"),
    (b"7z\xbc\xaf", "a 7-Zip archive"),
    (b"BZh", "bzip2 data"),
    (b"\xfd7zXZ", "xz data"),
    (b"\x28\xb5\x2f\xfd", "zstd data"),
    (b"TDSm", "a TDMS file; export it as text"),
    (b"\x89HDF", "an HDF5 file; export it as text"),
    (b"MATLAB 5.0", "a MAT file; export it as text"),
    (b"PAR1", "a Parquet file; export it as text"),
    (b"SQLite format 3", "an SQLite database"),
    (b"\x7fELF", "a program"),
];

/// What bytes are that are no text, in words; `None` for text.
pub(crate) fn not_text(bytes: &[u8]) -> Option<String> {
    if let Some((_, what)) = MAGIC.iter().find(|(magic, _)| bytes.starts_with(magic)) {
        return Some((*what).to_owned());
    }
    if utf16(bytes).is_some() {
        return None;
    }
    let head = trim_padding(bytes);
    let head = &head[..head.len().min(HEAD)];
    let control = head
        .iter()
        .filter(|byte| matches!(byte, 0..=8 | 11 | 14..=26 | 28..=31 | 127))
        .count();
    (control as f64 > MAX_CONTROL * head.len() as f64).then(|| "binary data".to_owned())
}

/// Bytes without the zeros a logger leaves at the end of a preallocated file.
fn trim_padding(bytes: &[u8]) -> &[u8] {
    let end = bytes
        .iter()
        .rposition(|byte| *byte != 0)
        .map_or(0, |at| at + 1);
    &bytes[..end]
}

/// UTF-16 by its mark or by zeros on every other byte.
fn utf16(bytes: &[u8]) -> Option<&'static Encoding> {
    if bytes.starts_with(b"\xff\xfe") {
        return Some(UTF_16LE);
    }
    if bytes.starts_with(b"\xfe\xff") {
        return Some(UTF_16BE);
    }
    let head = &bytes[..bytes.len().min(HEAD)];
    if head.len() < 4 {
        return None;
    }
    let zeros = |parity: usize| {
        let side = head.iter().skip(parity).step_by(2);
        let count = side.clone().count().max(1);
        side.filter(|byte| **byte == 0).count() as f64 / count as f64
    };
    // Western text in UTF-16 has a zero in nearly every high byte and in no low byte.
    match (zeros(0), zeros(1)) {
        (even, odd) if odd > 0.5 && even < 0.05 => Some(UTF_16LE),
        (even, odd) if even > 0.5 && odd < 0.05 => Some(UTF_16BE),
        _ => None,
    }
}

/// Decodes a file; `declared` is the encoding the rig names, as `encoding_rs` calls it.
///
/// # Errors
/// An error finding where the bytes are empty or no text.
pub(crate) fn decode(
    bytes: Vec<u8>,
    declared: Option<&str>,
    shown_as: &str,
) -> Result<Decoded, Finding> {
    let place = || Place::file(shown_as);
    if trim_padding(&bytes).is_empty() {
        let what = if bytes.is_empty() {
            "is empty"
        } else {
            "holds nothing but zero bytes"
        };
        return Err(Finding::error(
            "file-empty",
            format!("{shown_as} {what}; a table was expected"),
        )
        .at(place())
        .help("record or export it again, or take the run out of runs.csv"));
    }
    if let Some(what) = not_text(&bytes) {
        return Err(Finding::error(
            "not-a-table",
            format!("{shown_as} is not a text table: it is {what}"),
        )
        .at(place())
        .help("export the recording as CSV, or as a sheet of an XLSX file"));
    }
    let mut findings = Vec::new();
    let encoding = choose(&bytes, declared, shown_as, &mut findings);
    let (mut text, padded) = if encoding == UTF_8 {
        utf8(bytes)
    } else {
        let sound = if encoding == WINDOWS_1252 {
            trim_padding(&bytes)
        } else {
            // Half a character at the end: the file was cut.
            &bytes[..bytes.len() - bytes.len() % 2]
        };
        let (text, _) = encoding.decode_with_bom_removal(sound);
        (
            text.into_owned(),
            sound.len() != bytes.len() && encoding == WINDOWS_1252,
        )
    };
    let before = text.len();
    while text.ends_with(['\0', '\u{fffd}', '\u{1a}']) {
        text.pop();
    }
    let mut padded = padded || text.len() != before;
    if memchr::memchr(0, text.as_bytes()).is_some() {
        text.retain(|character| character != '\0');
        padded = true;
    }
    if padded {
        findings.push(
            Finding::note(
                "file-padding",
                "zero bytes or half a character stand in or behind the text and were left out; the logger may have been cut off",
            )
            .at(place()),
        );
    }
    Ok(Decoded {
        text,
        encoding: encoding.name().to_owned(),
        findings,
    })
}

/// UTF-8 without its mark and without the end that is no text.
fn utf8(mut bytes: Vec<u8>) -> (String, bool) {
    let length = trim_padding(&bytes).len();
    let mut padded = length != bytes.len();
    bytes.truncate(length);
    if bytes.starts_with(b"\xef\xbb\xbf") {
        bytes.drain(..3);
    }
    let text = String::from_utf8(bytes).unwrap_or_else(|error| {
        padded = true;
        String::from_utf8_lossy(error.as_bytes()).into_owned()
    });
    (text, padded)
}

/// The encoding: what the bytes prove, else what the rig declares, else what fits.
fn choose(
    bytes: &[u8],
    declared: Option<&str>,
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> &'static Encoding {
    let declared = declared.and_then(|name| Encoding::for_label(name.as_bytes()));
    let mut seen = |encoding: &'static Encoding, why: &str| {
        if let Some(declared) = declared
            && declared != encoding
        {
            findings.push(
                Finding::doubt(
                    "encoding-differs",
                    format!(
                        "the rig declares the encoding {}, but the file is {}: {why}; it was read as {}",
                        declared.name(),
                        encoding.name(),
                        encoding.name()
                    ),
                )
                .at(Place::file(shown_as))
                .help("set encoding = \"auto\" in [dialect], or the encoding the file has"),
            );
        }
        encoding
    };
    if let Some(encoding) = utf16(bytes) {
        return seen(
            encoding,
            "it has a byte order mark or a zero in every other byte",
        );
    }
    if bytes.starts_with(b"\xef\xbb\xbf") {
        // UTF-8 with its mark is UTF-8 beyond doubt.
        return seen(UTF_8, "it begins with a byte order mark");
    }
    if bytes.is_ascii() {
        return match declared {
            Some(declared) if declared != UTF_16LE && declared != UTF_16BE => declared,
            _ => seen(UTF_8, "every byte is plain ASCII"),
        };
    }
    match std::str::from_utf8(bytes) {
        Ok(_) => seen(UTF_8, "its accented letters are valid UTF-8"),
        // Cut in the middle of a character.
        Err(error) if error.error_len().is_none() => {
            seen(UTF_8, "its accented letters are valid UTF-8")
        }
        Err(_) => match declared {
            Some(declared) if declared != UTF_8 && declared != UTF_16LE && declared != UTF_16BE => {
                declared
            }
            _ => seen(WINDOWS_1252, "its accented letters are not valid UTF-8"),
        },
    }
}
