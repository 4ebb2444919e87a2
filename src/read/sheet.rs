//! Spreadsheets (XLSX, XLS, ODS): the fullest sheet as text with one line a row.

use super::biff;
use super::format::{Format, Opened, Sniffed};
use super::guard::guarded;
use super::number::{MarkVotes, Marks, read_number};
use super::sheet_parts::{hidden_rows, ods_area, ods_ends};
use super::zip::unpacks_to_more;
use crate::recording::{Finding, Place, Severity, suggest};
use crate::rig::{DialectSpec, SheetRef};
use calamine::{Data, DataRef, Range, Reader, SheetVisible, Sheets, open_workbook_auto_from_rs};
use std::fmt::Write as _;
use std::io::Cursor;

/// Stands between cells; it occurs in no sheet.
pub(crate) const CELL_MARK: char = '\u{1f}';
/// A workbook whose parts unpack to more than this is refused, bytes.
const MAX_UNPACKED: u64 = 2 << 30;
/// Cells of the area a sheet spans at most: a full sheet of a million rows and 48 columns, 1.6 GB while it is read.
const MAX_CELLS: u64 = 50_331_648;
/// Cells a file may span beside those it has bytes for: 64 full columns of the old kind of sheet, or a few stray cells. A damaged file of
/// some kilobytes may claim to span any number.
const SPARE_CELLS: u64 = 64 << 16;

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

    fn open(&self, bytes: Vec<u8>, spec: &DialectSpec, shown_as: &str) -> Result<Opened, Finding> {
        let mut book = workbook(bytes, shown_as)?;
        let mut findings = Vec::new();
        let (name, range) = match &spec.sheet {
            Some(wanted) => {
                let name = sheet_named(&book.names(), wanted, shown_as)?;
                let range = book.range(&name, shown_as)?;
                (name, range)
            }
            None => fullest(&mut book, shown_as, &mut findings)?,
        };
        let text = to_text(&range, shown_as)?;
        findings.extend(hidden_rows(&book.packed, &name, shown_as));
        Ok(Opened {
            text,
            encoding: format!("sheet \"{name}\""),
            fixed: DialectSpec {
                delimiter: Some(CELL_MARK),
                decimal: Some('.'),
                thousands: Some(None),
                ..DialectSpec::default()
            },
            findings,
            added: 0,
        })
    }
}

/// Sheets looked at.
const MOST_SHEETS: usize = 64;
/// From this share of the cells of the fullest sheet on, another may be the one that is meant.
const AS_FULL: f64 = 0.5;

/// The sheet with most cells, hidden ones last; that it was chosen is told, and doubted where another is about as full.
fn fullest(
    book: &mut Book,
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> Result<(String, Range<Data>), Finding> {
    let sheets: Vec<(String, bool)> = book
        .sheets
        .sheets_metadata()
        .iter()
        .map(|sheet| (sheet.name.clone(), sheet.visible == SheetVisible::Visible))
        .collect();
    let mut best: Option<((bool, usize), String, Range<Data>)> = None;
    let (mut sizes, mut fault) = (Vec::new(), None);
    for (name, visible) in sheets.iter().take(MOST_SHEETS) {
        let range = match book.range(name, shown_as) {
            Ok(range) => range,
            Err(finding) => {
                fault.get_or_insert(finding);
                continue;
            }
        };
        let cells = range.used_cells().count();
        if cells > 0 {
            sizes.push((name.clone(), cells));
        }
        let rank = (*visible && cells > 0, cells);
        if best.as_ref().is_none_or(|(most, ..)| rank > *most) {
            best = Some((rank, name.clone(), range));
        }
    }
    let Some(((visible, cells), name, range)) = best.filter(|((_, cells), ..)| *cells > 0) else {
        return Err(fault.unwrap_or_else(|| {
            Finding::error(
                "file-empty",
                format!("{shown_as} holds no sheet with cells"),
            )
            .at(Place::file(shown_as))
            .help("export the recording again")
        }));
    };
    // A sheet that cannot be read may have been the one that is meant.
    findings.extend(fault.map(|mut fault| {
        fault.severity = Severity::Doubt;
        fault
    }));
    let others: Vec<String> = sizes
        .iter()
        .filter(|(other, _)| *other != name)
        .take(8)
        .map(|(other, _)| format!("\"{other}\""))
        .collect();
    if others.is_empty() && visible {
        return Ok((name, range));
    }
    let rival = sizes
        .iter()
        .any(|(other, size)| *other != name && *size as f64 >= AS_FULL * cells as f64);
    let hidden = if visible { "" } else { ", though it is hidden" };
    let message = if others.is_empty() {
        format!("the sheet \"{name}\" was read{hidden}")
    } else {
        format!(
            "the sheet \"{name}\" was read{hidden}, the one with most cells; others are {}",
            others.join(", ")
        )
    };
    let finding = if rival {
        Finding::doubt("sheet-chosen", message)
    } else {
        Finding::note("sheet-chosen", message)
    };
    findings.push(finding.at(Place::file(shown_as)).help(format!(
        "declare sheet = \"{name}\" in [dialect] of the rig, or name the sheet in runs.csv: {shown_as}#{name}"
    )));
    Ok((name, range))
}

/// The name of the sheet a rig asks for.
fn sheet_named(names: &[String], wanted: &SheetRef, shown_as: &str) -> Result<String, Finding> {
    let (found, what) = match wanted {
        SheetRef::Name(name) => {
            let plain = name.trim().to_lowercase();
            let found = names.iter().find(|other| *other == name).or_else(|| {
                names
                    .iter()
                    .find(|other| other.trim().to_lowercase() == plain)
            });
            (found, format!("\"{name}\""))
        }
        SheetRef::Number(number) => (
            number.checked_sub(1).and_then(|at| names.get(at)),
            format!("number {number}"),
        ),
    };
    found.cloned().ok_or_else(|| {
        let list: Vec<String> = names
            .iter()
            .take(12)
            .map(|name| format!("\"{name}\""))
            .collect();
        let near = match wanted {
            SheetRef::Name(name) => suggest(name, names.iter().map(String::as_str)),
            SheetRef::Number(_) => None,
        };
        Finding::error(
            "sheet-missing",
            format!("{shown_as} has no sheet {what}; it has {}", list.join(", ")),
        )
        .at(Place::file(shown_as))
        .help(match near {
            Some(near) => format!("did you mean sheet = \"{near}\"?"),
            None => {
                "name one of them in [dialect] of the rig, by name or by number from 1".to_owned()
            }
        })
    })
}

fn has(bytes: &[u8], needle: &[u8]) -> bool {
    let tail = &bytes[bytes.len().saturating_sub(1 << 16)..];
    let head = &bytes[..bytes.len().min(1 << 16)];
    [head, tail]
        .iter()
        .any(|part| part.windows(needle.len()).any(|window| window == needle))
}

/// A workbook: its parser, and its bytes for what the parser does not tell.
pub(crate) struct Book {
    sheets: Sheets<Cursor<Vec<u8>>>,
    /// The bytes of the archive; none for workbooks of the old kind.
    pub packed: Vec<u8>,
    /// Cells it may span.
    most: u64,
}

impl Book {
    /// Names of the sheets in their order.
    pub fn names(&self) -> Vec<String> {
        self.sheets.sheet_names()
    }

    /// Cells of the area that the parser would lay out for a sheet of an XLSX workbook, told by the parser itself: a stray cell in the
    /// last row and column asks for 17 thousand million. `None` for other workbooks, and where nothing can be read.
    fn area(&mut self, name: &str) -> Option<u64> {
        let Sheets::Xlsx(book) = &mut self.sheets else {
            return None;
        };
        guarded(|| {
            let mut cells = book.worksheet_cells_reader(name).ok()?;
            let (mut low, mut high) = ((u32::MAX, u32::MAX), (0, 0));
            // Where the cells become unreadable, reading them ends as well.
            while let Ok(Some(cell)) = cells.next_cell() {
                if *cell.get_value() == DataRef::Empty {
                    continue;
                }
                let (row, column) = cell.get_position();
                low = (low.0.min(row), low.1.min(column));
                high = (high.0.max(row), high.1.max(column));
            }
            let span = |low: u32, high: u32| u64::from(high.checked_sub(low)?).checked_add(1);
            span(low.0, high.0)?.checked_mul(span(low.1, high.1)?)
        })
        .flatten()
    }

    /// The cells of a sheet.
    ///
    /// # Errors
    /// An error finding where the sheet is damaged or spans too many cells.
    pub fn range(&mut self, name: &str, shown_as: &str) -> Result<Range<Data>, Finding> {
        if let Some(cells) = self.area(name)
            && cells > self.most
        {
            let what = format!("{shown_as}, sheet \"{name}\",");
            return Err(too_large(cells, self.most, &what, shown_as));
        }
        match guarded(|| self.sheets.worksheet_range(name)) {
            Some(Ok(range)) => Ok(range),
            Some(Err(error)) => Err(damaged(
                format!("the sheet \"{name}\" of {shown_as}: {error}"),
                shown_as,
            )),
            None => Err(damaged(
                format!("the sheet \"{name}\" of {shown_as} is damaged"),
                shown_as,
            )),
        }
    }
}

fn damaged(message: String, shown_as: &str) -> Finding {
    Finding::error("sheet-unreadable", message)
        .at(Place::file(shown_as))
        .help(
            "open it in the spreadsheet program, repair it and save it again, or export it as CSV",
        )
}

/// Cells that a workbook may span: no cell takes less than a byte.
fn most_cells(bytes: &[u8]) -> u64 {
    let size = unpacked(bytes).max(bytes.len() as u64);
    size.saturating_add(SPARE_CELLS).min(MAX_CELLS)
}

fn too_large(cells: u64, most: u64, what: &str, shown_as: &str) -> Finding {
    Finding::error(
        "sheet-too-large",
        format!("{what} spans {cells} cells; of a file of its size at most {most} are read"),
    )
    .at(Place::file(shown_as))
    .help("delete stray cells far off the table")
}

/// Opens a workbook.
///
/// # Errors
/// An error finding naming the file where it is damaged or unpacks to too much.
pub(crate) fn workbook(bytes: Vec<u8>, shown_as: &str) -> Result<Book, Finding> {
    if unpacked(&bytes) > MAX_UNPACKED
        || bytes.starts_with(b"PK") && unpacks_to_more(&bytes, MAX_UNPACKED)
    {
        return Err(damaged(
            format!("{shown_as} unpacks to more than {MAX_UNPACKED} bytes"),
            shown_as,
        ));
    }
    let most = most_cells(&bytes);
    // These workbooks are built up whole as soon as they are opened.
    let cells = if bytes.starts_with(b"\xd0\xcf") {
        let cells = biff::cells(&bytes);
        Some(cells.ok_or_else(|| {
            let what = "its parts do not hang together";
            let message = format!("{shown_as} cannot be read as a spreadsheet: {what}");
            damaged(message, shown_as)
        })?)
    } else {
        ods_area(&bytes)
    };
    if let Some(cells) = cells.filter(|cells| *cells > most) {
        return Err(too_large(cells, most, shown_as, shown_as));
    }
    if bytes.starts_with(b"PK") && !ods_ends(&bytes) {
        return Err(damaged(
            format!("{shown_as} cannot be read as a spreadsheet: its list of cells does not end"),
            shown_as,
        ));
    }
    let packed = if bytes.starts_with(b"PK") {
        bytes.clone()
    } else {
        Vec::new()
    };
    match guarded(|| open_workbook_auto_from_rs(Cursor::new(bytes))) {
        Some(Ok(sheets)) => Ok(Book {
            sheets,
            packed,
            most,
        }),
        Some(Err(error)) => Err(damaged(
            format!("{shown_as} cannot be read as a spreadsheet: {error}"),
            shown_as,
        )),
        None => Err(damaged(
            format!("{shown_as} cannot be read as a spreadsheet: it is damaged"),
            shown_as,
        )),
    }
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
/// An error finding where a cell is damaged.
pub(crate) fn to_text(range: &Range<Data>, shown_as: &str) -> Result<String, Finding> {
    guarded(|| text_of(range)).ok_or_else(|| {
        damaged(
            format!("a sheet of {shown_as} holds cells that cannot be read"),
            shown_as,
        )
    })
}

fn text_of(range: &Range<Data>) -> String {
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
    text
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
        Data::String(string) => push_text(text, string, marks),
        Data::Bool(on) => text.push(if *on { '1' } else { '0' }),
        Data::DateTime(stamp) if stamp.is_duration() => {
            push_elapsed(text, stamp.as_f64() * 86_400.0);
        }
        Data::DurationIso(duration) => match iso_seconds(duration) {
            Some(seconds) => push_elapsed(text, seconds),
            None => push_text(text, duration, marks),
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

/// An elapsed time, whose hours may go beyond 24.
fn push_elapsed(text: &mut String, seconds: f64) {
    let ms = (seconds.abs() * 1000.0).round() as u64;
    let sign = if seconds < 0.0 { "-" } else { "" };
    let _ = write!(
        text,
        "{sign}{:02}:{:02}:{:02}.{:03}",
        ms / 3_600_000,
        ms / 60_000 % 60,
        ms / 1000 % 60,
        ms % 1000
    );
}

/// Seconds of an ISO 8601 duration of hours, minutes and seconds, as ODS keeps times (`PT01H02M03.5S`).
fn iso_seconds(text: &str) -> Option<f64> {
    let mut rest = text.trim().strip_prefix("PT")?;
    let mut seconds = 0.0;
    for (letter, factor) in [('H', 3600.0), ('M', 60.0), ('S', 1.0)] {
        if let Some((number, tail)) = rest.split_once(letter) {
            seconds += number.replace(',', ".").parse::<f64>().ok()? * factor;
            rest = tail;
        }
    }
    rest.is_empty().then_some(seconds)
}

/// A cell kept as text: a number with the marks of whoever typed it is written with a point.
pub(super) fn push_text(text: &mut String, string: &str, marks: Marks) {
    match read_number(string, marks) {
        Some(number) if marks != Marks::POINT && string.contains([',', ' ']) => {
            text.push_str(&number.to_string());
        }
        _ => {
            // A quote at the front would open a cell that holds everything behind it.
            let quoted = string.trim_start().starts_with('"');
            text.extend(string.chars().map(|c| match c {
                '"' if quoted => '\'',
                c if c.is_control() || c == CELL_MARK => ' ',
                c => c,
            }));
        }
    }
}
