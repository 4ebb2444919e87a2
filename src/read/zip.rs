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

/// Deflated data unpack to at most so many times their length (zlib, technical details).
const DEFLATE_MOST: u64 = 1032;

/// True where all parts of the archive together unpack to more than `most` bytes, whatever its directory says.
pub(crate) fn unpacks_to_more(packed: &[u8], most: u64) -> bool {
    // Most workbooks are too small for that, and need not be unpacked to know.
    if (packed.len() as u64).saturating_mul(DEFLATE_MOST) <= most {
        return false;
    }
    let mut left = most;
    for at in memchr::memmem::find_iter(packed, DIRECTORY_ENTRY) {
        let Some(part) = entry_at(packed, at) else {
            continue;
        };
        // A part that is damaged is for the parser to refuse.
        let mut part = part.take(left + 1);
        let mut piece = [0; 1 << 14];
        while let Ok(read @ 1..) = part.read(&mut piece) {
            match left.checked_sub(read as u64) {
                Some(rest) => left = rest,
                None => return true,
            }
        }
    }
    false
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
pub(crate) fn entry<'p>(packed: &'p [u8], path: &str) -> Option<Box<dyn BufRead + 'p>> {
    let at = memchr::memmem::find_iter(packed, DIRECTORY_ENTRY).find(|at| {
        name_of(packed, *at).is_some_and(|name| name.eq_ignore_ascii_case(path.as_bytes()))
    })?;
    entry_at(packed, at)
}

/// What an entry of the archive's directory unpacks to.
fn entry_at(packed: &[u8], at: usize) -> Option<Box<dyn BufRead + '_>> {
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

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use flate2::{Compression, write::DeflateEncoder};
    use std::io::Write;

    /// An archive of one part, whose directory says it unpacks to a single byte.
    fn archive(part: &[u8]) -> Vec<u8> {
        let mut encoder = DeflateEncoder::new(Vec::new(), Compression::best());
        encoder.write_all(part).unwrap();
        let data = encoder.finish().unwrap();
        let mut bytes = b"PK\x03\x04".to_vec();
        bytes.extend([0; 22]);
        bytes.extend([1, 0, 0, 0, b'x']);
        bytes.extend(&data);
        bytes.extend(DIRECTORY_ENTRY);
        bytes.extend([0; 6]);
        bytes.extend([8, 0]);
        bytes.extend([0; 8]);
        bytes.extend(u32::try_from(data.len()).unwrap().to_le_bytes());
        bytes.extend([1, 0, 0, 0]);
        bytes.extend([1, 0]);
        bytes.extend([0; 16]);
        bytes.push(b'x');
        bytes
    }

    #[test]
    fn what_is_unpacked_is_counted_and_not_believed() {
        let bytes = archive(&vec![b'<'; 3_000_000]);
        assert!(bytes.len() < 5000);
        assert!(unpacks_to_more(&bytes, 2_999_999));
        assert!(!unpacks_to_more(&bytes, 3_000_000));
        assert!(!unpacks_to_more(&bytes, u64::MAX));
        assert!(!unpacks_to_more(b"PK\x01\x02", 0));
    }
}
