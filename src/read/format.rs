//! The kinds of files that can be read as a table: one list, one small trait.

use super::encoding;
use super::gzip::unpack;
use super::header_blocks::HeaderBlocks;
use super::json::Json;
use super::layout::{Layout, layout};
use super::sheet::Sheet;
use crate::recording::{Finding, Place};
use crate::rig::DialectSpec;

/// How sure a format is of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Sniffed {
    /// 0 (cannot be) to 1 (certain).
    pub confidence: f64,
    /// Why.
    pub reason: String,
}

/// A file opened as text with cells, whatever it was.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Opened {
    /// The text, lines as the file numbers them.
    pub text: String,
    /// Encoding in words.
    pub encoding: String,
    /// Dialect that the format itself fixes, stronger than the rig's.
    pub fixed: DialectSpec,
    /// Lines at the head of the text that the file itself does not have.
    pub added: u64,
    /// Doubts.
    pub findings: Vec<Finding>,
}

/// A kind of file. To add one, write this trait and add it to [`FORMATS`].
pub trait Format: Sync {
    /// Name for reports.
    fn name(&self) -> &'static str;
    /// How sure the format is of these bytes.
    fn sniff(&self, bytes: &[u8]) -> Sniffed;
    /// Opens the bytes as text with cells.
    ///
    /// # Errors
    /// An error finding naming the file.
    fn open(&self, bytes: Vec<u8>, spec: &DialectSpec, shown_as: &str) -> Result<Opened, Finding>;
}

/// Every format known, the surest at sniffing first.
pub const FORMATS: &[&dyn Format] = &[&Sheet, &HeaderBlocks, &Json, &DelimitedText];

/// The format that is surest of these bytes; the name of the file plays no part, as it is often wrong.
pub fn format_of(bytes: &[u8]) -> &'static dyn Format {
    let mut best: (&'static dyn Format, f64) = (&DelimitedText, 0.0);
    for format in FORMATS {
        let confidence = format.sniff(bytes).confidence;
        if confidence > best.1 {
            best = (*format, confidence);
        }
    }
    best.0
}

/// Text with a delimiter.
#[derive(Debug, Clone, Copy)]
pub struct DelimitedText;

impl Format for DelimitedText {
    fn name(&self) -> &'static str {
        "delimited text"
    }

    fn sniff(&self, bytes: &[u8]) -> Sniffed {
        match encoding::not_text(bytes) {
            None => Sniffed {
                confidence: 0.8,
                reason: "the bytes are text".to_owned(),
            },
            Some(what) => Sniffed {
                confidence: 0.1,
                reason: format!("the bytes are {what}"),
            },
        }
    }

    fn open(&self, bytes: Vec<u8>, spec: &DialectSpec, shown_as: &str) -> Result<Opened, Finding> {
        let decoded = encoding::decode(bytes, spec.encoding.as_deref(), shown_as)?;
        if decoded.text.trim().is_empty() {
            return Err(Finding::error(
                "file-empty",
                format!("{shown_as} holds nothing but blanks; a table was expected"),
            )
            .at(Place::file(shown_as))
            .help("record or export it again, or take the run out of runs.csv"));
        }
        Ok(Opened {
            text: decoded.text,
            encoding: decoded.encoding,
            findings: decoded.findings,
            ..Opened::default()
        })
    }
}

/// A file as text with its layout, whatever it was.
pub(crate) struct Ready {
    pub format: &'static dyn Format,
    pub text: String,
    pub encoding: String,
    pub layout: Layout,
    pub findings: Vec<Finding>,
}

/// Unpacks, opens and lays out a file.
///
/// # Errors
/// The findings, the last of them an error, where the bytes are no table.
pub(crate) fn ready(
    bytes: Vec<u8>,
    spec: &DialectSpec,
    shown_as: &str,
) -> Result<Ready, Vec<Finding>> {
    let (bytes, mut findings) = unpack(bytes, shown_as).map_err(|finding| vec![finding])?;
    let format = format_of(&bytes);
    let opened = match format.open(bytes, spec, shown_as) {
        Ok(opened) => opened,
        Err(finding) => {
            findings.push(finding);
            return Err(findings);
        }
    };
    findings.extend(opened.findings);
    match layout(&opened.text, &merged(spec, &opened.fixed), shown_as) {
        Ok(mut layout) => {
            findings.append(&mut layout.findings);
            layout.data.1 = layout.data.1.saturating_sub(opened.added).max(1);
            layout.names_line = layout
                .names_line
                .map(|line| line.saturating_sub(opened.added).max(1));
            Ok(Ready {
                format,
                text: opened.text,
                encoding: opened.encoding,
                layout,
                findings,
            })
        }
        Err(finding) => {
            findings.push(finding);
            Err(findings)
        }
    }
}

/// What the rig declares with what the format fixes.
pub(crate) fn merged(spec: &DialectSpec, fixed: &DialectSpec) -> DialectSpec {
    DialectSpec {
        delimiter: fixed.delimiter.or(spec.delimiter),
        decimal: fixed.decimal.or(spec.decimal),
        thousands: fixed.thousands.or(spec.thousands),
        encoding: fixed.encoding.clone().or_else(|| spec.encoding.clone()),
        skip_lines: fixed.skip_lines.or(spec.skip_lines),
        header_rows: fixed.header_rows.or(spec.header_rows),
        comment: fixed.comment.clone().or_else(|| spec.comment.clone()),
        sheet: spec.sheet.clone(),
    }
}
