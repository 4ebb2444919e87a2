//! One row of a table, read cell by cell, each fault with file, line and column.

use super::super::number::{Cell, read_cell, read_plain};
use super::cells::RowCells;
use super::source::Table;
use crate::recording::{Finding, Place, Severity, Stage, suggest};
use crate::units::{self, Dimension, Unit};
use std::collections::BTreeMap;

/// A number and the unit in the name of its column.
#[derive(Debug, Clone, Copy)]
pub(super) struct UnitColumn {
    /// 0-based number of the column.
    pub at: usize,
    /// Unit.
    pub unit: &'static Unit,
}

impl Table {
    /// Number of a column.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column == name)
    }

    /// The column `<base>_<unit>` with a unit of this dimension.
    pub fn unit_column(&self, base: &str, dimension: Dimension) -> Option<UnitColumn> {
        self.columns.iter().enumerate().find_map(|(at, column)| {
            let tail = column.strip_prefix(base)?;
            let tail = tail.trim_start_matches(['_', ' ', '[', '(']);
            let unit = units::find(tail.trim_end_matches([']', ')']))?;
            (unit.dimension == dimension).then_some(UnitColumn { at, unit })
        })
    }

    /// Findings about a table of a workbook name its sheet: the file alone does not tell where to look.
    pub fn name_sheet(&self, findings: &mut [Finding]) {
        if let Some(sheet) = &self.sheet {
            for finding in findings {
                finding.message = format!("sheet \"{sheet}\": {}", finding.message);
            }
        }
    }

    /// A finding at the header.
    pub fn at_header(&self, finding: Finding) -> Finding {
        finding.at(Place::line(&self.file, self.header_line))
    }

    /// The error for columns that are missing; `None` where all are there.
    pub fn missing(&self, needed: &[&str]) -> Option<Finding> {
        let missing: Vec<&str> = needed
            .iter()
            .copied()
            .filter(|name| self.column(name).is_none())
            .collect();
        let first = missing.first()?;
        let help = match suggest(first, self.columns.iter().map(String::as_str)) {
            Some(near) => format!("is \"{near}\" meant? rename it to \"{first}\""),
            None => format!("add the column; needed are {}", needed.join(", ")),
        };
        Some(
            self.at_header(Finding::error(
                "table-column-missing",
                format!(
                    "{} has no column {}; it has {}",
                    self.file,
                    missing
                        .iter()
                        .map(|name| format!("\"{name}\""))
                        .collect::<Vec<_>>()
                        .join(", "),
                    self.columns.join(", ")
                ),
            ))
            .help(help),
        )
    }

    /// A note of columns that are not known, of a table whose columns runs may be grouped by.
    pub fn ungrouped(&self, known: &[&str], prefixes: &[&str]) -> Option<Finding> {
        let finding = self.counting(
            known,
            prefixes,
            "count for nothing unless study.toml names them",
        );
        finding
            .map(|note| note.help("`group_by` or `fracture_against` of study.toml may name them"))
    }

    /// A note of columns that are not known.
    pub fn unknown(&self, known: &[&str], prefixes: &[&str]) -> Option<Finding> {
        self.counting(known, prefixes, "count for nothing")
    }

    fn counting(&self, known: &[&str], prefixes: &[&str], count: &str) -> Option<Finding> {
        let unknown: Vec<&str> = self
            .columns
            .iter()
            .map(String::as_str)
            .filter(|column| {
                !column.is_empty()
                    && !known.contains(column)
                    && !prefixes.iter().any(|prefix| column.starts_with(prefix))
            })
            .collect();
        (!unknown.is_empty()).then(|| {
            self.at_header(Finding::note(
                "table-column-unknown",
                format!(
                    "columns of {} that {count}: {}",
                    self.file,
                    unknown.join(", ")
                ),
            ))
        })
    }
}

/// Numbers of the records that rows belong to, by what names them: run and stage, say.
pub(super) struct Places<R> {
    known: BTreeMap<R, usize>,
    /// Rows of a record mostly follow each other.
    last: Option<(R, usize)>,
}

impl<R> Default for Places<R> {
    fn default() -> Self {
        Self {
            known: BTreeMap::new(),
            last: None,
        }
    }
}

impl<R: Ord + Copy> Places<R> {
    /// The number of a record, which is `next` where it is a new one.
    pub fn of(&mut self, record: R, next: usize) -> usize {
        if let Some((last, at)) = self.last
            && last == record
        {
            return at;
        }
        let at = *self.known.entry(record).or_insert(next);
        self.last = Some((record, at));
        at
    }
}

/// A row with the faults found in it.
pub(super) struct Row<'t, 'f> {
    table: &'t Table,
    /// Line in the file.
    pub line: u64,
    cells: RowCells<'t>,
    findings: &'f mut Vec<Finding>,
}

impl<'t, 'f> Row<'t, 'f> {
    /// A row of a table.
    pub fn new(table: &'t Table, cells: RowCells<'t>, findings: &'f mut Vec<Finding>) -> Self {
        Self {
            table,
            line: cells.line,
            cells,
            findings,
        }
    }

    /// The cell of a column, empty where there is none.
    pub fn cell(&self, column: Option<usize>) -> &'t str {
        column.map_or("", |at| self.cells.get(at))
    }

    /// Number of a named column.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.table.column(name)
    }

    /// Text of a named column; `None` where empty.
    pub fn text(&self, name: &str) -> Option<&'t str> {
        Some(self.cell(self.table.column(name))).filter(|text| !text.is_empty())
    }

    /// Text of a named column to keep; `None` where empty.
    pub fn owned(&self, name: &str) -> Option<String> {
        self.text(name).map(str::to_owned)
    }

    /// Reports a fault of a cell.
    pub fn report(
        &mut self,
        severity: Severity,
        code: &str,
        column: &str,
        message: String,
        help: Option<String>,
    ) {
        let mut finding = Finding::new(severity, code, message).at(Place::cell(
            &self.table.file,
            self.line,
            column,
        ));
        finding.run_id = self.owned("run_id");
        finding.help = help;
        self.findings.push(finding);
    }

    /// Text of a column that must not be empty.
    pub fn needed(&mut self, name: &str) -> Option<&'t str> {
        let text = self.text(name);
        if text.is_none() {
            self.report(
                Severity::Error,
                "cell-empty",
                name,
                format!("the row has no {name} and was left out"),
                None,
            );
        }
        text
    }

    /// A word out of a list; unknown ones are reported and give `Err`, an empty cell gives `Ok(None)`.
    pub fn word<T: Copy>(
        &mut self,
        name: &str,
        words: &[(&str, T)],
        severity: Severity,
    ) -> Result<Option<T>, ()> {
        let Some(text) = self.text(name) else {
            return Ok(None);
        };
        let known = |(word, _): &&(&str, T)| word.eq_ignore_ascii_case(text);
        if let Some((_, value)) = words.iter().find(known) {
            return Ok(Some(*value));
        }
        let list: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        let help = suggest(&text.to_lowercase(), list.iter().copied())
            .map(|near| format!("did you mean \"{near}\"?"));
        let consequence = if severity == Severity::Error {
            "; the row was left out"
        } else {
            ""
        };
        self.report(
            severity,
            "unknown-word",
            name,
            format!(
                "{name} \"{text}\" is not known; expected one of {}{consequence}",
                list.join(", ")
            ),
            help,
        );
        Err(())
    }

    /// A stage that must be there.
    pub fn stage(&mut self) -> Option<Stage> {
        match self.word("stage", STAGES, Severity::Error) {
            Ok(Some(stage)) => Some(stage),
            Ok(None) => {
                self.needed("stage");
                None
            }
            Err(()) => None,
        }
    }

    /// The run and the stage, which must be there.
    pub fn run_and_stage(&mut self) -> Option<(&'t str, Stage)> {
        self.needed("run_id").zip(self.stage())
    }

    /// What a text is as a cell of this table, with its decimal mark.
    pub fn cell_of(&self, text: &str) -> Cell {
        let marks = self.table.marks;
        read_plain(text, marks.decimal).map_or_else(|| read_cell(text, marks), Cell::Number)
    }

    /// A number; a cell that is text is reported and gives `Err`, an empty one `Ok(None)`.
    pub fn number_at(
        &mut self,
        column: Option<usize>,
        name: &str,
        severity: Severity,
    ) -> Result<Option<f64>, ()> {
        let text = self.cell(column);
        match self.cell_of(text) {
            Cell::Number(number) => Ok(Some(number)),
            Cell::Missing => Ok(None),
            Cell::Text => {
                self.report(
                    severity,
                    "not-a-number",
                    name,
                    format!(
                        "{name} is \"{text}\"; a number was expected, with \"{}\" as decimal mark{}",
                        self.table.marks.decimal,
                        if severity == Severity::Error {
                            "; the row was left out"
                        } else {
                            ""
                        }
                    ),
                    None,
                );
                Err(())
            }
        }
    }

    /// A number of a named column that may be empty; text is a doubt.
    pub fn number(&mut self, name: &str) -> Option<f64> {
        let column = self.table.column(name);
        self.number_at(column, name, Severity::Doubt).ok().flatten()
    }

    /// A length of a column `<base>_<unit>` in mm; must be above 0.
    pub fn length_mm(&mut self, base: &str) -> Option<f64> {
        let column = self.table.unit_column(base, Dimension::Length)?;
        self.positive(column, base)
    }

    /// A pressure of a column `<base>_<unit>` in kPa; must be above 0.
    pub fn pressure_kpa(&mut self, base: &str) -> Option<f64> {
        let column = self.table.unit_column(base, Dimension::Pressure)?;
        self.positive(column, base)
    }

    fn positive(&mut self, column: UnitColumn, name: &str) -> Option<f64> {
        let value = self
            .number_at(Some(column.at), name, Severity::Doubt)
            .ok()
            .flatten()?;
        if value > 0.0 {
            return Some(column.unit.to_bench(value));
        }
        self.report(
            Severity::Doubt,
            "value-out-of-range",
            name,
            format!("{name} is {value}; a number above 0 was expected, it was left out"),
            None,
        );
        None
    }
}

/// The stages with their words.
pub(super) const STAGES: &[(&str, Stage)] = &[
    ("before", Stage::Before),
    ("loaded", Stage::Loaded),
    ("after", Stage::After),
];
