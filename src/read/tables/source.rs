//! Where the tables of a study come from: CSV files of any dialect, or sheets of one workbook.

use super::super::bytes::{input, read_bytes};
use super::super::encoding::decode;
use super::super::number::Marks;
use super::super::sheet::{CELL_MARK, to_text, workbook};
use super::super::sheet_parts::hidden_rows;
use super::super::split::{LONGEST_LINE, Lines, split};
use super::cells::Cells;
use super::parts::{Header, Records, Rows, cells_of, is_blank, too_large};
use crate::recording::{Finding, Input, Place, suggest};
use std::path::Path;

/// Names of the tables a study may have.
pub(super) const TABLES: &[&str] = &[
    "runs",
    "frames",
    "balloons",
    "charts",
    "calipers",
    "contours",
    "flow",
    "observations",
];
/// Endings of table files, the usual one first.
const ENDINGS: &[&str] = &["csv", "tsv", "txt"];
/// Endings of workbooks.
const BOOKS: &[&str] = &["xlsx", "xlsm", "xls", "ods"];
/// Columns that hold words even where the words look like numbers.
pub(super) const WORDS: &[&str] = &[
    "run_id",
    "frame_id",
    "balloon_id",
    "arm",
    "trace",
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
    "unit",
];

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
        let mut records = Records::of(Lines::new(text));
        let mut columns: Vec<String> = Vec::new();
        let mut header_line = 1;
        for (line, text) in &mut records {
            if text.len() > LONGEST_LINE {
                self.findings.push(too_large(file, line));
                break;
            }
            let cells = cells_of(&text, delimiter);
            if !is_blank(&cells) {
                columns = cells.iter().map(|cell| cell.to_lowercase()).collect();
                header_line = line;
                break;
            }
        }
        let (at, number) = match columns.len() {
            0 => (text.len(), 1),
            _ => records.place(),
        };
        let header = Header {
            file,
            columns: &columns,
            delimiter,
        };
        let Rows {
            cells: rows,
            votes,
            findings,
        } = header.rows(text, at, number);
        self.findings.extend(findings);
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
