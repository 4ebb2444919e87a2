//! Measurement text with header blocks: lines of key and values up to `***End_of_Header***`, once for the file and again for
//! every packet of data, with separator, decimal mark, units and sampling step declared in them.

use super::columns::with_unit;
use super::encoding::{decode, not_text};
use super::format::{Format, Opened, Sniffed};
use super::number::{Marks, read_number};
use super::sheet::CELL_MARK;
use super::split::{LONGEST_LINE, Line, Lines, split};
use crate::recording::{Finding, Place};
use crate::rig::DialectSpec;
use std::borrow::Cow;

/// Closes a header block.
const END: &str = "***End_of_Header***";
/// Absolute times count seconds since 1904-01-01 UTC in this format; 1970-01-01 is so many seconds later.
const SECONDS_1904_TO_1970: i64 = 2_082_844_800;
/// Absolute times below this are none: a stopwatch.
const ABSOLUTE_FROM: f64 = 1e9;

/// Measurement text with header blocks.
#[derive(Debug, Clone, Copy)]
pub struct HeaderBlocks;

impl Format for HeaderBlocks {
    fn name(&self) -> &'static str {
        "text with header blocks"
    }

    fn sniff(&self, bytes: &[u8]) -> Sniffed {
        let head = bytes.get(..1 << 16).unwrap_or(bytes);
        // In UTF-16 every second byte of these words is zero.
        let head: Cow<'_, [u8]> = if memchr::memchr(0, head).is_some() {
            head.iter().copied().filter(|byte| *byte != 0).collect()
        } else {
            head.into()
        };
        let closed = memchr::memmem::find(&head, END.as_bytes()).is_some();
        let sure = closed && not_text(bytes).is_none();
        Sniffed {
            confidence: if sure { 0.92 } else { 0.0 },
            reason: if sure {
                "a header block is closed by its closing line".to_owned()
            } else {
                "no header block is closed".to_owned()
            },
        }
    }

    fn open(&self, bytes: Vec<u8>, spec: &DialectSpec, shown_as: &str) -> Result<Opened, Finding> {
        let decoded = decode(bytes, spec.encoding.as_deref(), shown_as)?;
        let file = File::of(&decoded.text);
        let mut findings = decoded.findings;
        let rewritten = rewrite(&decoded.text, &file, shown_as, &mut findings)?;
        Ok(Opened {
            text: rewritten.text,
            encoding: decoded.encoding,
            fixed: DialectSpec {
                delimiter: Some(CELL_MARK),
                decimal: Some(file.decimal),
                thousands: Some(None),
                skip_lines: rewritten.names_line,
                header_rows: rewritten.names_line.map(|_| 1),
                comment: Some(None),
                ..DialectSpec::default()
            },
            added: 0,
            findings,
        })
    }
}

/// What the first header says of the whole file.
struct File {
    separator: char,
    decimal: char,
    columns: TimeColumns,
    absolute: bool,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum TimeColumns {
    No,
    One,
    Multi,
}

impl File {
    fn of(text: &str) -> Self {
        let mut file = Self {
            separator: '\t',
            decimal: '.',
            columns: TimeColumns::One,
            absolute: false,
        };
        for line in Lines::new(text)
            .take_while(|line| !line.text.starts_with(END))
            .take(1000)
        {
            let end = line
                .text
                .find(|c: char| !c.is_alphanumeric() && c != '_')
                .unwrap_or(line.text.len());
            let (key, rest) = line.text.split_at(end);
            // The separator itself stands between the key and its value.
            let mark = rest.chars().next().unwrap_or('\t');
            let value = rest.get(mark.len_utf8()..).unwrap_or_default();
            let value = value
                .trim_end_matches([mark, ' ', '\t'])
                .trim()
                .to_lowercase();
            match key.to_lowercase().as_str() {
                "separator" => {
                    file.separator = match value.as_str() {
                        "comma" => ',',
                        "semicolon" => ';',
                        _ => '\t',
                    };
                }
                "decimal_separator" => {
                    file.decimal = if rest
                        .get(mark.len_utf8()..)
                        .is_some_and(|rest| rest.trim().starts_with(','))
                    {
                        ','
                    } else {
                        '.'
                    };
                }
                "x_columns" => {
                    file.columns = match value.as_str() {
                        "no" => TimeColumns::No,
                        "multi" => TimeColumns::Multi,
                        _ => TimeColumns::One,
                    };
                }
                "time_pref" => file.absolute = value == "absolute",
                _ => {}
            }
        }
        file
    }
}

struct Rewritten {
    text: String,
    /// Lines before the first line of names.
    names_line: Option<usize>,
}

/// One packet's header: the values a channel, by key.
#[derive(Default)]
struct Packet {
    units: Vec<String>,
    steps: Vec<f64>,
    step_text: String,
}

/// The text with the same lines, cells parted by [`CELL_MARK`], header blocks of later packets blank, so that only names and
/// readings are left.
fn rewrite(
    text: &str,
    file: &File,
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> Result<Rewritten, Finding> {
    let marks = Marks {
        decimal: file.decimal,
        thousands: None,
    };
    let mut out = String::with_capacity(text.len() + 64);
    let mut names_line = None;
    let mut packet = Packet::default();
    let mut names_of_x = Vec::new();
    let mut first_step: Option<f64> = None;
    let (mut differs, mut uneven) = (None, None);
    let mut cells = Vec::new();
    let lines = Lines::new(text);
    let mut after_end = false;
    let mut ahead = lines.peekable();
    while let Some(line) = ahead.next() {
        too_long(&line, shown_as)?;
        split(line.text, file.separator, &mut cells);
        let first = cells.first().map_or("", |cell| cell.trim());
        let is_key = !first.is_empty()
            && first.starts_with(|c: char| c.is_alphabetic() || c == '*')
            && read_number(first, marks).is_none()
            && !super::number::is_missing_word(first);
        if first.starts_with(END) {
            after_end = true;
        } else if is_key && after_end && !next_is_key(&mut ahead, file.separator) {
            // Names stand right behind the last header of a packet.
            after_end = false;
            let (header, x) = names(&cells, file, &packet);
            if names_line.is_none() {
                names_line = Some(line.number as usize - 1);
                names_of_x = x;
            }
            if let Some(step) = packet.steps.first().copied() {
                let usual = *first_step.get_or_insert(step);
                if file.columns == TimeColumns::No
                    && (packet
                        .steps
                        .iter()
                        .any(|other| (other - usual).abs() > 1e-9 * usual.abs()))
                {
                    uneven.get_or_insert(line.number);
                }
            }
            out.push_str(&header);
            packet = Packet::default();
        } else if is_key {
            packet.add(first, &cells, marks);
            if names_line.is_none() {
                preamble(&mut out, first, &cells, file, &packet);
            }
        } else if names_line.is_some() {
            after_end = false;
            if differs.is_none() && line.ended && !same_x(&cells, &names_of_x, marks) {
                differs = Some(line.number);
            }
            row(&mut out, &cells, file, &names_of_x, marks);
        }
        // A line that was cut stays one.
        if line.ended {
            out.push('\n');
        }
    }
    let place = |line: u64| Place::line(shown_as, line);
    if let Some(line) = differs {
        findings.push(
            Finding::error(
                "clocks-differ",
                "the channels have times of their own that differ in one row, so a row is no instant",
            )
            .at(place(line))
            .help("export the file with one time column (X_Columns One), or every channel to a file of its own"),
        );
    }
    if let Some(line) = uneven {
        findings.push(
            Finding::error(
                "clocks-differ",
                "the file has no time column and its channels or packets have different sampling steps (Delta_X)",
            )
            .at(place(line))
            .help("export the file with a time column (X_Columns One)"),
        );
    }
    Ok(Rewritten {
        text: out,
        names_line,
    })
}

fn too_long(line: &Line<'_>, shown_as: &str) -> Result<(), Finding> {
    if line.text.len() <= LONGEST_LINE {
        return Ok(());
    }
    Err(Finding::error(
        "line-too-long",
        format!(
            "line {} has {} bytes; lines of a table have at most {LONGEST_LINE}",
            line.number,
            line.text.len()
        ),
    )
    .at(Place::line(shown_as, line.number))
    .help("check that the file is a text table with line ends"))
}

/// True where the next line is a key or closes a header: then this one is no line of names.
fn next_is_key(ahead: &mut std::iter::Peekable<Lines<'_>>, separator: char) -> bool {
    ahead.peek().is_some_and(|next| {
        let first = next.text.split(separator).next().unwrap_or_default().trim();
        first.starts_with(END)
            || first.starts_with(|c: char| c.is_alphabetic())
                && !super::number::is_missing_word(first)
    })
}

impl Packet {
    fn add(&mut self, key: &str, cells: &[&str], marks: Marks) {
        let values = || cells.iter().skip(1).map(|cell| cell.trim());
        match key.to_lowercase().as_str() {
            "y_unit_label" => self.units = values().map(str::to_owned).collect(),
            "delta_x" => {
                self.steps = values()
                    .filter_map(|cell| read_number(cell, marks))
                    .collect();
                values()
                    .next()
                    .unwrap_or_default()
                    .clone_into(&mut self.step_text);
            }
            _ => {}
        }
    }
}

/// A key line of the first headers, kept for whoever wants to look, and for the clock.
fn preamble(out: &mut String, key: &str, cells: &[&str], file: &File, packet: &Packet) {
    // Beside a time column the step says nothing more; without one it is the clock, in s as the format has it.
    if key.eq_ignore_ascii_case("delta_x") {
        if file.columns == TimeColumns::No && !packet.step_text.is_empty() {
            out.push_str("Delta_X");
            out.push(CELL_MARK);
            out.push_str(&packet.step_text);
            out.push_str(" s");
        }
        return;
    }
    for (at, cell) in cells.iter().map(|cell| cell.trim()).enumerate() {
        if at > 0 && !cell.is_empty() {
            out.push(CELL_MARK);
        }
        out.push_str(cell);
    }
}

/// The line of names, units in brackets, and which columns are times.
fn names(cells: &[&str], file: &File, packet: &Packet) -> (String, Vec<usize>) {
    let mut header = String::new();
    let mut x = Vec::new();
    let mut channel = 0;
    for (at, cell) in cells.iter().enumerate() {
        if at > 0 {
            header.push(CELL_MARK);
        }
        let name = cell.trim().trim_matches('"');
        let is_x = match file.columns {
            TimeColumns::Multi => name.to_lowercase().starts_with("x_value"),
            _ => {
                at == 0
                    && (file.columns == TimeColumns::One
                        || name.to_lowercase().starts_with("x_value"))
            }
        };
        if is_x {
            // Of several times the first is the clock; without times the column is empty.
            if x.is_empty() && file.columns != TimeColumns::No {
                header.push_str(&with_unit(name, "s"));
            }
            x.push(at);
            continue;
        }
        let unit = packet.units.get(channel).map_or("", String::as_str);
        header.push_str(&if name.eq_ignore_ascii_case("comment") {
            name.to_owned()
        } else {
            with_unit(name, unit)
        });
        channel += 1;
    }
    (header, x)
}

/// True where the times of a row are the same.
fn same_x(cells: &[&str], x: &[usize], marks: Marks) -> bool {
    let mut times = x
        .iter()
        .filter_map(|at| cells.get(*at))
        .filter_map(|cell| read_number(cell, marks));
    let Some(first) = times.next() else {
        return true;
    };
    times.all(|time| (time - first).abs() <= 1e-9 * first.abs().max(1e-3))
}

/// A row of readings; absolute times are counted from 1970 as everywhere else.
fn row(out: &mut String, cells: &[&str], file: &File, x: &[usize], marks: Marks) {
    for (at, cell) in cells.iter().enumerate() {
        if at > 0 {
            out.push(CELL_MARK);
        }
        if x.contains(&at) {
            if x.first() != Some(&at) {
                continue;
            }
            if file.absolute
                && let Some(number) = read_number(cell, marks)
                && number >= ABSOLUTE_FROM
            {
                let (whole, fraction) = cell
                    .trim()
                    .split_once(file.decimal)
                    .unwrap_or((cell.trim(), "0"));
                if let Ok(seconds) = whole.parse::<i64>() {
                    out.push_str(&(seconds - SECONDS_1904_TO_1970).to_string());
                    out.push(file.decimal);
                    out.push_str(fraction);
                    continue;
                }
            }
        }
        out.push_str(&cell.replace(CELL_MARK, " "));
    }
}
