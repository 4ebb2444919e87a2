//! What the parts of a workbook say that its parser does not: rows that are hidden, and how far a sheet reaches, before
//! memory is asked for.

use super::zip::{entry, tags};
use crate::recording::{Finding, Place};
use quick_xml::Reader;
use quick_xml::events::Event;
use std::io::Read as _;

/// Unpacked bytes looked through at most.
const MOST: u64 = 2 << 30;
/// Unpacked bytes of the lists of sheets.
const MOST_LIST: u64 = 16 << 20;

/// A note about the hidden rows of a sheet; `None` where there are none, or the file is no XLSX. They are read like the others.
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

/// The largest area of any table of an ODS file, `None` for other files: rows and cells may be repeated by a number.
pub(crate) fn ods_area(packed: &[u8]) -> Option<u64> {
    let (mut most, mut rows, mut used_rows, mut width) = (0_u64, 0_u64, 0_u64, 0_u64);
    let (mut repeats, mut at) = (0_u64, 0_u64);
    tags(packed, "content.xml", MOST, |tag| {
        let repeated = |name: &str| {
            attribute(tag, name)
                .and_then(|count| count.parse().ok())
                .unwrap_or(1_u64)
        };
        if is_named(tag, "table") && !tag.starts_with('/') {
            (rows, used_rows, width) = (0, 0, 0);
        } else if is_named(tag, "table-row") && !tag.starts_with('/') {
            repeats = repeated("table:number-rows-repeated");
            rows = rows.saturating_add(repeats);
            at = 0;
        } else if is_named(tag, "table-cell") && !tag.starts_with('/') {
            at = at.saturating_add(repeated("table:number-columns-repeated"));
            if attribute(tag, "office:value-type").is_some() {
                used_rows = rows;
                width = width.max(at);
                most = most.max(used_rows.saturating_mul(width));
            }
        }
    })?;
    Some(most)
}

/// True if the cells of an ODS file are XML whose elements all end; true for other files. The parser waits for the end of a table
/// for ever where it is missing.
pub(crate) fn ods_ends(packed: &[u8]) -> bool {
    let Some(content) = entry(packed, "content.xml") else {
        return true;
    };
    let mut reader = Reader::from_reader(content.take(MOST));
    let (mut open, mut buffer) = (0_usize, Vec::new());
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer) {
            Ok(Event::Start(_)) => open += 1,
            // An end without a beginning, or of another element, is an error.
            Ok(Event::End(_)) => open = open.saturating_sub(1),
            Ok(Event::Eof) => return open == 0,
            Ok(_) => {}
            Err(_) => return false,
        }
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tags_have_names_and_attributes() {
        let tag = "x:row r='12' customHidden=\"0\" hidden = \"1\"/";
        assert!(is_named(tag, "row") && !is_named(tag, "r"));
        assert_eq!(attribute(tag, "hidden"), Some("1"));
        assert_eq!(attribute(tag, "r"), Some("12"));
        assert_eq!(attribute(tag, "ht"), None);
    }
}
