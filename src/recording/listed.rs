//! The cells of the tables of runs, frames and balloons by the names of their columns: what runs can be grouped by beside [`GROUPINGS`], and
//! what their fracture can be set against.
//!
//! [`GROUPINGS`]: super::GROUPINGS

use super::Place;
use std::collections::BTreeMap;

/// The cells of one table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ListedTable {
    /// The file it was read from.
    pub file: String,
    /// Names of the columns, in lower case.
    pub columns: Vec<String>,
    /// Rows by the name of what they are about; the first row of a name stands.
    pub rows: BTreeMap<String, ListedRow>,
    /// True where its numbers have a decimal comma.
    pub comma: bool,
}

/// A row of a table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ListedRow {
    /// Its line in the file.
    pub line: u64,
    /// Cells as written.
    pub cells: Vec<String>,
}

/// A cell with where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct ListedCell<'t> {
    /// As written, without blanks around it.
    pub text: &'t str,
    /// Where.
    pub at: Place,
    comma: bool,
}

impl ListedCell<'_> {
    /// The finite number it says; `None` for words.
    pub fn number(&self) -> Option<f64> {
        let number = if self.comma {
            self.text.replace(',', ".").parse::<f64>()
        } else {
            self.text.parse::<f64>()
        };
        number.ok().filter(|number| number.is_finite())
    }
}

/// The cells of the tables of runs, frames and balloons.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Listed {
    /// The tables in the order in which a column is looked for.
    pub tables: [ListedTable; 3],
}

impl Listed {
    /// Names of all columns.
    pub fn columns(&self) -> impl Iterator<Item = &str> {
        let columns = self.tables.iter().flat_map(|table| &table.columns);
        columns.map(String::as_str).filter(|name| !name.is_empty())
    }

    /// The cell of a column of the first table that has it, for a run, its frame and its balloon; `None` where it is empty.
    pub fn cell(
        &self,
        column: &str,
        [run, frame, balloon]: [Option<&str>; 3],
    ) -> Option<ListedCell<'_>> {
        let at = |table: &ListedTable| table.columns.iter().position(|name| name == column);
        let mut tables = self.tables.iter().zip([run, frame, balloon]);
        let (table, id, at) = tables.find_map(|(table, id)| Some((table, id, at(table)?)))?;
        let row = table.rows.get(id?)?;
        let text = row.cells.get(at)?.trim();
        (!text.is_empty()).then(|| ListedCell {
            text,
            at: Place::cell(&table.file, row.line, column),
            comma: table.comma,
        })
    }
}
