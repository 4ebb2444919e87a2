//! The `[dialect]` of a rig file.

use super::document::{Section, count_of};
use super::{DialectSpec, SheetRef};
use crate::recording::suggest;

/// More header rows than this are a preamble.
const MAX_HEADER_ROWS: usize = 4;
/// More lines before the header than this are no preamble.
const MAX_SKIP_LINES: usize = 100_000;

/// Words of `encoding`, and how `encoding_rs` calls them.
pub(crate) const ENCODINGS: &[(&str, &str)] = &[
    ("utf-8", "UTF-8"),
    ("utf8", "UTF-8"),
    ("utf-8-sig", "UTF-8"),
    ("ascii", "UTF-8"),
    ("utf-16-le", "UTF-16LE"),
    ("utf-16le", "UTF-16LE"),
    ("utf-16", "UTF-16LE"),
    ("utf-16-be", "UTF-16BE"),
    ("utf-16be", "UTF-16BE"),
    ("latin-1", "windows-1252"),
    ("latin1", "windows-1252"),
    ("iso-8859-1", "windows-1252"),
    ("windows-1252", "windows-1252"),
    ("cp1252", "windows-1252"),
];

/// Reads the section; keys that are missing or `"auto"` are left for the file itself to tell.
pub(super) fn dialect(section: Section<'_, '_>) -> DialectSpec {
    let given = section.word("mode", &[("given", true), ("auto", false)]);
    let mut spec = DialectSpec {
        delimiter: delimiter(&section),
        decimal: mark(&section, "decimal", &['.', ',']).flatten(),
        thousands: mark(&section, "thousands", &['.', ',', ' ', '\'']),
        encoding: encoding(&section),
        skip_lines: count(&section, "skip_lines", MAX_SKIP_LINES),
        header_rows: count(&section, "header_rows", MAX_HEADER_ROWS),
        comment: comment(&section),
        sheet: sheet(&section),
    };
    if given.is_none()
        && let Some((_, value)) = section.get("mode")
        && value.get_ref().as_str().is_some()
    {
        // An unknown mode is already reported; sniff meanwhile.
        spec = DialectSpec::default();
    }
    section.finish();
    spec
}

fn is_auto(section: &Section<'_, '_>, key: &str) -> bool {
    section
        .get(key)
        .is_none_or(|(_, value)| value.get_ref().as_str() == Some("auto"))
}

fn delimiter(section: &Section<'_, '_>) -> Option<char> {
    if is_auto(section, "delimiter") {
        return None;
    }
    section.word(
        "delimiter",
        &[
            (",", ','),
            (";", ';'),
            ("tab", '\t'),
            ("", '\t'), // a literal tab, trimmed by the comparison
            ("|", '|'),
            ("whitespace", ' '),
        ],
    )
}

#[allow(clippy::option_option)] // as DialectSpec: not declared, declared as none, declared
/// A mark; the inner `None` says that there is none.
fn mark(section: &Section<'_, '_>, key: &str, allowed: &[char]) -> Option<Option<char>> {
    if is_auto(section, key) {
        return None;
    }
    let (text, span) = section.text(key)?;
    let mut characters = text.chars();
    match (characters.next(), characters.next()) {
        (None, _) => Some(None),
        (Some(found), None) if allowed.contains(&found) => Some(Some(found)),
        _ => {
            let list: Vec<String> = allowed.iter().map(|mark| format!("\"{mark}\"")).collect();
            section.doc.error(
                &span,
                "toml-word",
                format!(
                    "[dialect] `{key}` is \"{text}\"; expected one of {}",
                    list.join(" ")
                ),
                None,
            );
            None
        }
    }
}

fn encoding(section: &Section<'_, '_>) -> Option<String> {
    if is_auto(section, "encoding") {
        return None;
    }
    let (text, span) = section.text("encoding")?;
    let lower = text.trim().to_lowercase().replace('_', "-");
    if let Some((_, name)) = ENCODINGS.iter().find(|(word, _)| *word == lower) {
        return Some((*name).to_owned());
    }
    // Any other single-byte or national encoding the web knows is as good.
    if let Some(encoding) = encoding_rs::Encoding::for_label(lower.as_bytes()) {
        return Some(encoding.name().to_owned());
    }
    let words = ENCODINGS.iter().map(|(word, _)| *word);
    section.doc.error(
        &span,
        "toml-word",
        format!("[dialect] `encoding` is \"{text}\"; expected an encoding such as utf-8, utf-16-le, latin-1, windows-1252"),
        suggest(&lower, words).map(|word| format!("did you mean \"{word}\"?")),
    );
    None
}

fn count(section: &Section<'_, '_>, key: &str, max: usize) -> Option<usize> {
    if is_auto(section, key) {
        return None;
    }
    section.count(key, max)
}

#[allow(clippy::option_option)]
fn comment(section: &Section<'_, '_>) -> Option<Option<String>> {
    if is_auto(section, "comment") {
        return None;
    }
    let (text, _) = section.text("comment")?;
    Some((!text.is_empty()).then_some(text))
}

/// A sheet by name or by number.
fn sheet(section: &Section<'_, '_>) -> Option<SheetRef> {
    if is_auto(section, "sheet") {
        return None;
    }
    let (_, value) = section.get("sheet")?;
    if let Some(name) = value.get_ref().as_str() {
        return Some(SheetRef::Name(name.trim().to_owned()));
    }
    let number = count_of(value).filter(|number| *number > 0);
    if number.is_none() {
        section.wrong(
            "sheet",
            value,
            "the name of a sheet in quotes, or its number counted from 1",
        );
    }
    number.map(SheetRef::Number)
}
