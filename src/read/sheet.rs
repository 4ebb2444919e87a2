//! Spreadsheets (XLSX, XLS, ODS): the fullest sheet as text with one line a row.

use super::biff;
use super::format::{Format, Opened, Sniffed};
use super::number::{MarkVotes, Marks, read_number};
use crate::recording::{Finding, Place};
use crate::rig::DialectSpec;
use calamine::{Data, Range, Reader, Sheets, open_workbook_auto_from_rs};
use std::fmt::Write as _;
use std::io::Cursor;

/// Stands between cells; it occurs in no sheet.
pub(crate) const CELL_MARK: char = '\u{1f}';
/// A workbook whose parts unpack to more than this is refused, bytes.
const MAX_UNPACKED: u64 = 2 << 30;
/// Cells of the area a sheet spans at most (a stray cell in the last row would otherwise ask for billions).
const MAX_CELLS: usize = 50_331_648;

/// A spreadsheet.
#[derive(Debug, Clone, Copy)]
pub struct Sheet;

impl Format for Sheet {
    fn name(&self) -> &'static str {
        "spreadsheet"
    }

    fn sniff(&self, bytes: &[u8]) -> Sniffed {
        let zip =
            bytes.starts_with(b"PK\x03\x04") && has(bytes, b"xl/") | has(bytes, b"content.xml");
        let ole = bytes.starts_with(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1");
        Sniffed {
            confidence: if zip || ole { 0.95 } else { 0.0 },
            reason: if zip {
                "a ZIP archive with sheets in it".to_owned()
            } else if ole {
                "an OLE document".to_owned()
            } else {
                "neither a ZIP archive nor an OLE document".to_owned()
            },
        }
    }

    fn open(&self, bytes: Vec<u8>, _spec: &DialectSpec, shown_as: &str) -> Result<Opened, Finding> {
        let mut book = workbook(bytes, shown_as)?;
        let mut names = book.sheet_names();
        names.truncate(64);
        let mut fullest: Option<(usize, String, Range<Data>)> = None;
        for name in names {
            let Ok(range) = book.worksheet_range(&name) else {
                continue;
            };
            let cells = range.used_cells().count();
            if fullest.as_ref().is_none_or(|(most, ..)| cells > *most) {
                fullest = Some((cells, name, range));
            }
        }
        let Some((_, name, range)) = fullest.filter(|(cells, ..)| *cells > 0) else {
            return Err(Finding::error(
                "file-empty",
                format!("{shown_as} holds no sheet with cells"),
            )
            .at(Place::file(shown_as)));
        };
        let text = to_text(&range, shown_as)?;
        let mut findings = Vec::new();
        if book.sheet_names().len() > 1 {
            findings.push(
                Finding::note(
                    "sheet-chosen",
                    format!("the sheet \"{name}\" was read, the one with most cells"),
                )
                .at(Place::file(shown_as)),
            );
        }
        Ok(Opened {
            text,
            encoding: format!("sheet \"{name}\""),
            fixed: DialectSpec {
                delimiter: Some(CELL_MARK),
                decimal: Some('.'),
                thousands: Some(None),
                encoding: None,
                skip_lines: None,
                header_rows: None,
                comment: None,
            },
            findings,
        })
    }
}

fn has(bytes: &[u8], needle: &[u8]) -> bool {
    let tail = &bytes[bytes.len().saturating_sub(1 << 16)..];
    let head = &bytes[..bytes.len().min(1 << 16)];
    [head, tail]
        .iter()
        .any(|part| part.windows(needle.len()).any(|window| window == needle))
}

/// Opens a workbook.
///
/// # Errors
/// An error finding naming the file where it is damaged or unpacks to too much.
pub(crate) fn workbook(bytes: Vec<u8>, shown_as: &str) -> Result<Sheets<Cursor<Vec<u8>>>, Finding> {
    let fault = |message: String| {
        Finding::error("sheet-unreadable", message)
            .at(Place::file(shown_as))
            .help("open it in the spreadsheet program, repair it and save it again, or export it as CSV")
    };
    if unpacked(&bytes) > MAX_UNPACKED {
        return Err(fault(format!(
            "{shown_as} unpacks to more than {MAX_UNPACKED} bytes"
        )));
    }
    if bytes.starts_with(b"\xd0\xcf")
        && biff::cells(&bytes).is_none_or(|cells| cells > MAX_CELLS as u64)
    {
        return Err(fault(format!(
            "{shown_as} cannot be read as a spreadsheet: its parts do not hang together, or it spans more than {MAX_CELLS} cells"
        )));
    }
    open_workbook_auto_from_rs(Cursor::new(bytes)).map_err(|error| {
        fault(format!(
            "{shown_as} cannot be read as a spreadsheet: {error}"
        ))
    })
}

/// Sum of the unpacked sizes the directory of a ZIP archive states, bytes; 0 for other files.
fn unpacked(bytes: &[u8]) -> u64 {
    let mut sum = 0_u64;
    let mut at = 0;
    while let Some(found) = find(bytes, at, b"PK\x01\x02") {
        let size = bytes
            .get(found + 24..found + 28)
            .and_then(|field| field.try_into().ok())
            .map_or(0, u32::from_le_bytes);
        sum = sum.saturating_add(u64::from(size));
        at = found + 4;
    }
    sum
}

fn find(bytes: &[u8], from: usize, needle: &[u8]) -> Option<usize> {
    let first = *needle.first()?;
    let mut at = from;
    while let Some(step) = bytes.get(at..)?.iter().position(|byte| *byte == first) {
        if bytes[at + step..].starts_with(needle) {
            return Some(at + step);
        }
        at += step + 1;
    }
    None
}

/// A sheet as text: one line a row, numbered as in the sheet, [`CELL_MARK`] between cells.
///
/// # Errors
/// An error finding where the sheet spans too many cells.
pub(crate) fn to_text(range: &Range<Data>, shown_as: &str) -> Result<String, Finding> {
    let (rows, columns) = range.get_size();
    if rows.saturating_mul(columns) > MAX_CELLS {
        return Err(Finding::error(
            "sheet-too-large",
            format!("the sheet of {shown_as} spans {rows} rows and {columns} columns"),
        )
        .at(Place::file(shown_as))
        .help("delete stray cells far off the table"));
    }
    let (row0, column0) = range.start().unwrap_or((0, 0));
    let marks = marks_of_text(range);
    // Lines before the used area keep the row numbers of the sheet.
    let mut text = "\n".repeat((row0 as usize).min(1_100_000));
    for row in range.rows() {
        for _ in 0..column0.min(16_384) {
            text.push(CELL_MARK);
        }
        for (at, cell) in row.iter().enumerate() {
            if at > 0 {
                text.push(CELL_MARK);
            }
            push_cell(&mut text, cell, marks);
        }
        text.push('\n');
    }
    Ok(text)
}

/// Numbers kept as text follow the marks of the person who typed them.
fn marks_of_text(range: &Range<Data>) -> Marks {
    let mut votes = MarkVotes::default();
    for cell in range.rows().take(2000).flatten() {
        if let Data::String(text) = cell {
            votes.add(text);
        }
    }
    votes.marks(';').0
}

fn push_cell(text: &mut String, cell: &Data, marks: Marks) {
    match cell {
        Data::Empty => {}
        Data::Error(_) => text.push_str("#NUM!"),
        Data::String(string) => match read_number(string, marks) {
            Some(number) if marks != Marks::POINT && string.contains([',', ' ']) => {
                text.push_str(&number.to_string());
            }
            _ => text.extend(string.chars().map(|c| {
                if c.is_control() || c == CELL_MARK {
                    ' '
                } else {
                    c
                }
            })),
        },
        Data::DateTime(stamp) => {
            let (year, month, day, hour, minute, second, milli) = stamp.to_ymd_hms_milli();
            // A serial below one day is a time of day.
            if !(0.0..1.0).contains(&stamp.as_f64()) {
                let _ = write!(text, "{year:04}-{month:02}-{day:02}T");
            }
            let _ = write!(text, "{hour:02}:{minute:02}:{second:02}.{milli:03}");
        }
        other => text.push_str(&other.to_string()),
    }
}
