//! Recordings too large to be held as text: what they look like is told from excerpts, their rows are read stretch by stretch.

use super::body::Body;
use super::bytes::open;
use super::encoding;
use super::format::{DelimitedText, Format as _, format_of};
use super::gzip;
use super::layout::Layout;
use super::original::Original;
use super::sections::Footer;
use crate::recording::Finding;
use crate::rig::DialectSpec;
use encoding_rs::{Encoding, UTF_8};
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

/// From this size on a file is not held in memory, bytes.
const LARGE: u64 = 8 << 20;
/// Bytes taken from the front, which hold the header; from the middle; and from the end.
const EXCERPTS: [usize; 3] = [1 << 20, 1 << 16, 1 << 16];

/// A large text file, opened.
pub(super) struct Large {
    file: File,
    size: u64,
    front: Vec<u8>,
    /// The end of the file, from the start of a line on.
    tail: Vec<u8>,
    /// Whole lines from the front, the middle and the end, as text.
    pub excerpt: String,
    /// How bytes become text.
    pub encoding: &'static Encoding,
    /// Doubts about the text.
    pub findings: Vec<Finding>,
}

/// Opens a large text file; `None` where it is small, no delimited text, or of a kind that must be read whole.
pub(super) fn open_large(path: &Path, spec: &DialectSpec, shown_as: &str) -> Option<Large> {
    let mut file = open(path, shown_as).ok()?;
    let size = file.metadata().ok()?.len();
    if size < LARGE {
        return None;
    }
    let front = piece(&mut file, 0, EXCERPTS[0])?;
    // Old line ends and two-byte characters are rare enough to be read the slow way.
    let last = memchr::memrchr(b'\n', &front)?;
    let mut excerpt = front.get(..=last)?.to_vec();
    let mut tail = Vec::new();
    for (from, length) in [
        (size / 2, EXCERPTS[1]),
        (size - EXCERPTS[2] as u64, EXCERPTS[2]),
    ] {
        let piece = piece(&mut file, from, length)?;
        let (first, last) = (
            memchr::memchr(b'\n', &piece)?,
            memchr::memrchr(b'\n', &piece)?,
        );
        excerpt.extend(piece.get(first + 1..=last)?);
        tail = piece.get(first + 1..)?.to_vec();
    }
    if front.starts_with(gzip::MAGIC) {
        return None;
    }
    if format_of(&excerpt).name() != DelimitedText.name() {
        return None;
    }
    let decoded = encoding::decode(excerpt, spec.encoding.as_deref(), shown_as).ok()?;
    let encoding = Encoding::for_label(decoded.encoding.as_bytes())?;
    // In other encodings a byte of a letter may look like a delimiter.
    if encoding != UTF_8 && !encoding.is_single_byte() {
        return None;
    }
    Some(Large {
        file,
        size,
        front,
        tail,
        excerpt: decoded.text,
        encoding,
        findings: decoded.findings,
    })
}

impl Large {
    /// The file, for its fingerprint.
    pub fn into_original(self, shown_as: &str) -> Original {
        Original::open(self.file, self.size, shown_as)
    }

    /// The body without summary rows at its end, of which a finding tells; `None` where it cannot be read.
    pub fn without_footer<'b>(
        &self,
        body: Body<'b>,
        layout: &Layout,
        shown_as: &str,
        findings: &mut Vec<Finding>,
    ) -> Option<Body<'b>> {
        let text = if self.encoding == UTF_8 {
            std::str::from_utf8(&self.tail).ok()?.into()
        } else {
            self.encoding.decode_without_bom_handling(&self.tail).0
        };
        let sample = layout.sample(&self.excerpt);
        let Some(footer) = Footer::of(layout, &sample, &text, 0) else {
            return Some(body);
        };
        // A byte a character, but for UTF-8, which is as long as the text.
        let rest = text.get(footer.cut..)?;
        let bytes = if self.encoding == UTF_8 {
            rest.len()
        } else {
            rest.chars().count()
        };
        let body = body.up_to(self.size.checked_sub(bytes as u64)?);
        let line = layout.data.1 + body.lines_in_all(b'\n')? + footer.lines_before(&text);
        findings.push(footer.finding(shown_as, line));
        Some(body)
    }

    /// The lines from line `number` on, which must begin in the front.
    pub fn body(&self, number: u64) -> Option<Body<'_>> {
        let skipped = usize::try_from(number.checked_sub(1)?).ok()?;
        let from = match skipped.checked_sub(1) {
            None if self.encoding == UTF_8 && self.front.starts_with(b"\xef\xbb\xbf") => 3,
            None => 0,
            Some(before) => memchr::memchr_iter(b'\n', &self.front).nth(before)? + 1,
        };
        Some(Body::Disk {
            file: &self.file,
            from: from as u64,
            to: self.size,
        })
    }
}

fn piece(file: &mut File, from: u64, length: usize) -> Option<Vec<u8>> {
    let mut bytes = vec![0; length];
    file.seek(SeekFrom::Start(from)).ok()?;
    file.read_exact(&mut bytes).ok()?;
    Some(bytes)
}
