//! Rows that are hidden in a sheet of an XLSX workbook: they are read like the others, and a note says so.

use crate::recording::{Finding, Place};
use flate2::bufread::DeflateDecoder;
use std::io::{BufRead, BufReader, Read};

/// Unpacked bytes looked through at most.
const MOST: u64 = 2 << 30;
/// Unpacked bytes of the lists of sheets.
const MOST_LIST: u64 = 16 << 20;
/// Longest tag that is looked at, bytes.
const LONGEST_TAG: u64 = 1 << 16;

/// A note about the hidden rows of a sheet; `None` where there are none, or the file is no XLSX.
pub(crate) fn hidden_rows(packed: &[u8], sheet: &str, shown_as: &str) -> Option<Finding> {
    let path = sheet_path(packed, sheet)?;
    let (mut count, mut first) = (0_usize, None);
    tags(packed, &path, MOST, |tag| {
        if is_named(tag, "row") && matches!(attribute(tag, "hidden"), Some("1" | "true")) {
            count += 1;
            if first.is_none() {
                first = attribute(tag, "r").and_then(|row| row.parse().ok());
            }
        }
    })?;
    (count > 0).then(|| {
        Finding::note(
            "rows-hidden",
            format!(
                "{count} row(s) of the sheet \"{sheet}\" are hidden; they were read like the others"
            ),
        )
        .at(Place::line(shown_as, first.unwrap_or(1)))
        .help("delete the rows if they are no readings")
    })
}

/// The part of the archive that holds a sheet.
fn sheet_path(packed: &[u8], sheet: &str) -> Option<String> {
    let mut id = None;
    tags(packed, "xl/workbook.xml", MOST_LIST, |tag| {
        if is_named(tag, "sheet") && attribute(tag, "name").map(plain).as_deref() == Some(sheet) {
            id = attribute(tag, "r:id").map(str::to_owned);
        }
    })?;
    let id = id?;
    let mut target = None;
    tags(packed, "xl/_rels/workbook.xml.rels", MOST_LIST, |tag| {
        if is_named(tag, "Relationship") && attribute(tag, "Id") == Some(&id) {
            target = attribute(tag, "Target").map(str::to_owned);
        }
    })?;
    let target = target?;
    Some(match target.strip_prefix('/') {
        Some(absolute) => absolute.to_owned(),
        None => format!("xl/{target}"),
    })
}

/// A value of XML with the five named characters as themselves.
fn plain(value: &str) -> String {
    value
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&apos;", "'")
        .replace("&amp;", "&")
}

fn is_named(tag: &str, name: &str) -> bool {
    let word = tag
        .split([' ', '\t', '\r', '\n', '/'])
        .next()
        .unwrap_or_default();
    word.rsplit(':').next() == Some(name)
}

fn attribute<'t>(tag: &'t str, name: &str) -> Option<&'t str> {
    let mut rest = tag;
    while let Some(at) = rest.find(name) {
        let before = rest[..at].ends_with([' ', '\t', '\r', '\n']);
        let behind = &rest[at + name.len()..];
        if before
            && let Some(quoted) = behind.trim_start().strip_prefix('=')
            && let quoted = quoted.trim_start()
            && let Some(quote) = quoted.chars().next().filter(|c| matches!(c, '"' | '\''))
        {
            return quoted[1..].split(quote).next();
        }
        rest = behind;
    }
    None
}

/// Calls back with the inside of every tag of a part of the archive; `None` where there is no such part.
fn tags(packed: &[u8], path: &str, most: u64, mut each: impl FnMut(&str)) -> Option<()> {
    let reader = entry(packed, path)?;
    let mut reader = BufReader::new(reader.take(most));
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

/// An entry of a ZIP archive, unpacked as it is read (PKWARE APPNOTE 4.3.7 and 4.3.12).
fn entry<'p>(packed: &'p [u8], path: &str) -> Option<Box<dyn Read + 'p>> {
    let number = |at: usize, length: usize| -> Option<usize> {
        let bytes = packed.get(at..at.checked_add(length)?)?;
        Some(
            bytes
                .iter()
                .rev()
                .fold(0, |sum, byte| sum << 8 | usize::from(*byte)),
        )
    };
    for at in memchr::memmem::find_iter(packed, b"PK\x01\x02") {
        let length = number(at + 28, 2)?;
        if packed.get(at + 46..at + 46 + length) != Some(path.as_bytes()) {
            continue;
        }
        let (method, size, local) = (
            number(at + 10, 2)?,
            number(at + 20, 4)?,
            number(at + 42, 4)?,
        );
        let start = local + 30 + number(local + 26, 2)? + number(local + 28, 2)?;
        let data = packed.get(start..)?;
        let data = data.get(..size).unwrap_or(data);
        return match method {
            0 => Some(Box::new(data)),
            8 => Some(Box::new(DeflateDecoder::new(data))),
            _ => None,
        };
    }
    None
}
