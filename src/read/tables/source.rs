//! Where the tables of a study come from: CSV files of any dialect, or sheets of one workbook.

use super::super::bytes::{input, read_bytes};
use super::super::encoding::decode;
use super::super::number::{MarkVotes, Marks};
use super::super::sheet::{CELL_MARK, to_text, workbook};
use super::super::sheet_parts::hidden_rows;
use super::super::split::{LONGEST_LINE, Lines, clean, split};
use super::super::stamp_sniff::looks_like_stamp;
use super::cells::Cells;
use crate::recording::{Finding, Input, Place, suggest};
use std::borrow::Cow;
use std::path::Path;

/// Names of the tables a study may have.
pub(super) const TABLES: &[&str] = &[
    "runs",
    "frames",
    "balloons",
    "charts",
    "calipers",
    "contours",
    "images",
    "leaflets",
    "flow",
    "observations",
];
/// Endings of table files, the usual one first.
const ENDINGS: &[&str] = &["csv", "tsv", "txt"];
/// Endings of workbooks.
const BOOKS: &[&str] = &["xlsx", "xlsm", "xls", "ods"];
/// Columns that hold words even where the words look like numbers.
const WORDS: &[&str] = &[
    "run_id",
    "frame_id",
    "balloon_id",
    "arm",
    "trace",
    "file",
    "leaflet",
    "orifice",
    "shows",
    "tone",
    "use",
    "operator",
    "started_at",
    "note",
    "lot",
    "construction",
    "what",
    "observer",
    "rig",
    "kind",
    "stage",
    "method",
    "inspection",
    "inner_valve",
    "unit",
];
/// A table has at most so many rows; an outline has thousands of points, a flow record tens of thousands.
const MAX_ROWS: usize = 5_000_000;
/// A cell with line breaks in it spans at most so many lines.
const MAX_JOINED: usize = 50;

/// Bytes and fingerprint of the file of a name.
type Open<'o> = dyn Fn(&str) -> Result<(Vec<u8>, Input), Finding> + 'o;

/// One table with the cells as written.
#[derive(Debug, Clone)]
pub(super) struct Table {
    /// Name without ending.
    pub name: &'static str,
    /// File, relative to the study folder.
    pub file: String,
    /// Sheet, where the file is a workbook.
    pub sheet: Option<String>,
    /// Column names in lower case.
    pub columns: Vec<String>,
    /// Line of the header.
    pub header_line: u64,
    /// Marks of numbers.
    pub marks: Marks,
    /// Rows with their line.
    pub rows: Cells,
}

/// Every table of a study that is there, with the files read and what was doubtful.
#[derive(Debug, Default)]
pub(super) struct Sources {
    pub tables: Vec<Table>,
    pub inputs: Vec<Input>,
    pub findings: Vec<Finding>,
}

impl Sources {
    /// Reads the study folder.
    ///
    /// # Errors
    /// An error finding where the folder cannot be listed.
    pub fn read(folder: &Path) -> Result<Self, Finding> {
        let mut names = Vec::new();
        let listing = std::fs::read_dir(folder).map_err(|error| {
            Finding::error(
                "file-unreadable",
                format!("cannot list the study folder: {error}"),
            )
        })?;
        for entry in listing.flatten() {
            if let Some(name) = entry.file_name().to_str() {
                names.push(name.to_owned());
            }
        }
        let open = |file: &str| {
            // A link may lead out of the study.
            crate::rig::inside(folder, file).map_err(|reason| {
                Finding::error("path-outside", format!("{file}: {reason}")).at(Place::file(file))
            })?;
            let bytes = read_bytes(&folder.join(file), file)?;
            let input = input(&bytes, file);
            Ok((bytes, input))
        };
        Ok(Self::gather(names, &open))
    }

    /// Files that are in memory, each with its name.
    pub fn of(files: &[(String, Vec<u8>)]) -> Self {
        let names = files.iter().map(|(name, _)| name.clone()).collect();
        let open = |wanted: &str| {
            let (name, bytes) = files
                .iter()
                .find(|(name, _)| name == wanted)
                .ok_or_else(|| Finding::error("file-unreadable", "no such file"))?;
            Ok((bytes.clone(), input(bytes, name)))
        };
        Self::gather(names, &open)
    }

    /// The tables among files of these names.
    fn gather(mut names: Vec<String>, open: &Open<'_>) -> Self {
        names.sort();
        let mut sources = Self::default();
        for table in TABLES {
            let file = ENDINGS.iter().find_map(|ending| {
                let wanted = format!("{table}.{ending}");
                names
                    .iter()
                    .find(|name| **name == wanted)
                    .or_else(|| names.iter().find(|name| name.eq_ignore_ascii_case(&wanted)))
            });
            if let Some(file) = file {
                sources.read_file(open, table, file);
            }
        }
        for name in &names {
            let lower = name.to_lowercase();
            if let Some((stem, ending)) = lower.rsplit_once('.')
                && ENDINGS.contains(&ending)
                && !TABLES.contains(&stem)
            {
                sources.misnamed(stem, name, name);
            }
        }
        for book in names.iter().filter(|name| {
            let ending = name
                .rsplit('.')
                .next()
                .unwrap_or_default()
                .to_ascii_lowercase();
            BOOKS.contains(&ending.as_str()) && !name.starts_with(['~', '.'])
        }) {
            sources.read_book(open, book);
        }
        sources
    }

    /// The table of this name.
    pub fn table(&self, name: &str) -> Option<&Table> {
        self.tables.iter().find(|table| table.name == name)
    }

    fn read_file(&mut self, open: &Open<'_>, name: &'static str, file: &str) {
        let read = open(file).and_then(|(bytes, input)| {
            self.inputs.push(input);
            decode(bytes, None, file)
        });
        match read {
            Ok(decoded) => {
                self.findings.extend(decoded.findings);
                let delimiter = header_delimiter(&decoded.text);
                self.add(name, file, None, &decoded.text, delimiter);
            }
            Err(finding) => self.findings.push(finding),
        }
    }

    /// A table whose name is nearly one that is known would be missed without a word.
    fn misnamed(&mut self, stem: &str, what: &str, file: &str) {
        if let Some(near) = suggest(stem, TABLES.iter().copied()) {
            self.findings.push(
                Finding::doubt(
                    "table-misnamed",
                    format!("{what} was not read: no table has this name"),
                )
                .at(Place::file(file))
                .help(format!("name it \"{near}\" if that is meant")),
            );
        }
    }

    fn read_book(&mut self, open: &Open<'_>, file: &str) {
        let opened = open(file).and_then(|(bytes, input)| Ok((workbook(bytes, file)?, input)));
        let (mut book, input) = match opened {
            Ok(opened) => opened,
            Err(finding) => {
                self.findings.push(finding);
                return;
            }
        };
        let mut used = false;
        for sheet in book.names() {
            let plain = sheet.trim().to_lowercase();
            let Some(name) = TABLES.iter().find(|name| **name == plain) else {
                self.misnamed(&plain, &format!("the sheet \"{sheet}\" of {file}"), file);
                continue;
            };
            if let Some(table) = self.table(name) {
                let first = table.file.clone();
                self.findings.push(
                    Finding::doubt(
                        "table-twice",
                        format!("the table {name} is in {first} and in {file}; {first} was read"),
                    )
                    .at(Place::file(file))
                    .help("keep one of them"),
                );
                continue;
            }
            let text = book
                .range(&sheet, file)
                .and_then(|range| to_text(&range, file));
            match text {
                Ok(text) => {
                    used = true;
                    self.findings
                        .extend(hidden_rows(&book.packed, &sheet, file));
                    self.add(name, file, Some(&sheet), &text, CELL_MARK);
                }
                Err(finding) => self.findings.push(finding),
            }
        }
        if used {
            self.inputs.push(input);
        }
    }

    fn add(
        &mut self,
        name: &'static str,
        file: &str,
        sheet: Option<&str>,
        text: &str,
        delimiter: char,
    ) {
        let mut columns: Vec<String> = Vec::new();
        let mut header_line = 1;
        let mut rows = Cells::default();
        let mut votes = MarkVotes::default();
        let mut numbers: Vec<bool> = Vec::new();
        for (line, text) in records(text) {
            if text.len() > LONGEST_LINE || rows.len() >= MAX_ROWS {
                self.findings.push(
                    Finding::error(
                        "table-too-large",
                        format!("{file} has a line of more than {LONGEST_LINE} bytes or more than {MAX_ROWS} rows; the rest was left out"),
                    )
                    .at(Place::line(file, line)),
                );
                break;
            }
            let mut cells = Vec::with_capacity(columns.len());
            split(&text, delimiter, &mut cells);
            let cells: Vec<Cow<'_, str>> = cells.into_iter().map(clean).collect();
            if cells.iter().all(|cell| cell.is_empty())
                || cells.first().is_some_and(|cell| cell.starts_with('#'))
            {
                continue;
            }
            if columns.is_empty() {
                columns = cells.iter().map(|cell| cell.to_lowercase()).collect();
                numbers = columns
                    .iter()
                    .map(|column| may_be_numbers(column))
                    .collect();
                header_line = line;
                continue;
            }
            // Two sheets copied below each other.
            if cells.len() > 1
                && columns.len() == cells.len()
                && columns.iter().zip(&cells).all(|(column, cell)| {
                    column.eq_ignore_ascii_case(cell)
                        || !cell.is_ascii() && *column == cell.to_lowercase()
                })
            {
                self.findings.push(
                    Finding::note(
                        "header-again",
                        "the header stands again and was passed over",
                    )
                    .at(Place::line(file, line)),
                );
                continue;
            }
            for (numbers, cell) in numbers.iter().zip(&cells) {
                if *numbers && !looks_like_stamp(cell) {
                    votes.add(cell);
                }
            }
            let more = cells.len() > columns.len()
                && cells
                    .iter()
                    .skip(columns.len())
                    .any(|cell| !cell.is_empty());
            if more {
                self.findings.push(
                    Finding::doubt(
                        "row-too-long",
                        format!(
                            "the row has {} cells, the header {}; the cells beyond were left out",
                            cells.len(),
                            columns.len()
                        ),
                    )
                    .at(Place::line(file, line))
                    .help("put cells that hold the delimiter into double quotes"),
                );
            }
            rows.push(line, cells.iter().map(AsRef::as_ref));
        }
        let marks = if delimiter == CELL_MARK {
            Marks::POINT
        } else {
            votes.marks(delimiter).0
        };
        for (at, column) in columns.iter().enumerate() {
            if !column.is_empty() && columns[..at].contains(column) {
                self.findings.push(
                    Finding::doubt(
                        "column-twice",
                        format!("the column \"{column}\" stands twice; the first was read"),
                    )
                    .at(Place::cell(file, header_line, column.clone())),
                );
            }
        }
        self.tables.push(Table {
            name,
            file: file.to_owned(),
            sheet: sheet.map(str::to_owned),
            columns,
            header_line,
            marks,
            rows,
        });
    }
}

/// True for columns whose cells may be numbers, which tell the marks of the table.
fn may_be_numbers(column: &str) -> bool {
    !WORDS.contains(&column) && !column.starts_with(crate::rig::TRACE_COLUMN)
}

/// Lines, those with an open quote joined with the ones that close it.
fn records(text: &str) -> Vec<(u64, Cow<'_, str>)> {
    let lines: Vec<_> = Lines::new(text).collect();
    let mut records = Vec::with_capacity(lines.len());
    let mut at = 0;
    while let Some(line) = lines.get(at) {
        let mut open = opens(line.text);
        if !open {
            records.push((line.number, Cow::Borrowed(line.text)));
            at += 1;
            continue;
        }
        let mut joined = line.text.to_owned();
        let mut used = 1;
        while open
            && used < MAX_JOINED
            && let Some(next) = lines.get(at + used)
        {
            joined.push(' ');
            joined.push_str(next.text);
            open ^= opens(next.text);
            used += 1;
        }
        if open {
            // The quote never closes: it is only a stray mark.
            records.push((line.number, Cow::Borrowed(line.text)));
            used = 1;
        } else {
            records.push((line.number, Cow::Owned(joined)));
        }
        at += used;
    }
    records
}

/// True where a quote is left open, or closed, at the end of a line.
fn opens(line: &str) -> bool {
    memchr::memchr_iter(b'"', line.as_bytes()).count() % 2 == 1
}

/// The delimiter that splits the header into most cells, by the rule of tables: names without blanks.
fn header_delimiter(text: &str) -> char {
    let header = Lines::new(text)
        .map(|line| line.text.trim())
        .find(|line| !line.is_empty() && !line.starts_with('#'))
        .unwrap_or_default();
    let mut best = (0, ',');
    for delimiter in [',', ';', '\t', '|'] {
        let mut cells = Vec::new();
        split(header, delimiter, &mut cells);
        if cells.len() > best.0 {
            best = (cells.len(), delimiter);
        }
    }
    best.1
}
