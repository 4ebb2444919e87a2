//! Parts of a ZIP archive of XML, tag by tag, unpacked as they are read.

use flate2::bufread::DeflateDecoder;
use std::io::{BufRead, BufReader, Read};

/// Begins an entry of the archive's directory.
const DIRECTORY_ENTRY: &[u8] = b"PK\x01\x02";
/// Longest tag that is looked at, bytes.
const LONGEST_TAG: u64 = 1 << 16;

/// Calls back with the inside of every tag of a part of the archive; `None` where there is no such part.
pub(crate) fn tags(packed: &[u8], path: &str, most: u64, mut each: impl FnMut(&str)) -> Option<()> {
    let mut reader = entry(packed, path)?.take(most);
    let mut tag = Vec::new();
    loop {
        // What stands between tags is of no interest.
        let skipped = reader.skip_until(b'<').ok()?;
        if skipped == 0 {
            return Some(());
        }
        tag.clear();
        reader
            .by_ref()
            .take(LONGEST_TAG)
            .read_until(b'>', &mut tag)
            .ok()?;
        if let Ok(text) = std::str::from_utf8(&tag) {
            each(text.trim_end_matches('>'));
        }
    }
}

/// Names of the parts of the archive.
pub(crate) fn names(packed: &[u8]) -> Vec<String> {
    memchr::memmem::find_iter(packed, DIRECTORY_ENTRY)
        .filter_map(|at| name_of(packed, at))
        .map(|name| String::from_utf8_lossy(name).into_owned())
        .collect()
}

fn name_of(packed: &[u8], entry: usize) -> Option<&[u8]> {
    let length = number(packed, entry + 28, 2)?;
    packed.get(entry + 46..entry + 46 + length)
}

/// A whole number of the archive, its lowest byte first.
fn number(packed: &[u8], at: usize, length: usize) -> Option<usize> {
    let bytes = packed.get(at..at.checked_add(length)?)?;
    Some(
        bytes
            .iter()
            .rev()
            .fold(0, |sum, byte| sum << 8 | usize::from(*byte)),
    )
}

/// An entry of a ZIP archive, unpacked as it is read (PKWARE APPNOTE 4.3.7 and 4.3.12); case does not matter in its name.
fn entry<'p>(packed: &'p [u8], path: &str) -> Option<Box<dyn BufRead + 'p>> {
    let at = memchr::memmem::find_iter(packed, DIRECTORY_ENTRY).find(|at| {
        name_of(packed, *at).is_some_and(|name| name.eq_ignore_ascii_case(path.as_bytes()))
    })?;
    let (method, size, local) = (
        number(packed, at + 10, 2)?,
        number(packed, at + 20, 4)?,
        number(packed, at + 42, 4)?,
    );
    let start = local + 30 + number(packed, local + 26, 2)? + number(packed, local + 28, 2)?;
    let data = packed.get(start..)?;
    let data = data.get(..size).unwrap_or(data);
    match method {
        0 => Some(Box::new(data)),
        8 => Some(Box::new(BufReader::new(DeflateDecoder::new(data)))),
        _ => None,
    }
}
