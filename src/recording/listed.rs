//! The cells of the tables of runs, frames and balloons by the names of their columns: what runs can be grouped by beside [`GROUPINGS`].
//!
//! [`GROUPINGS`]: super::GROUPINGS

use std::collections::BTreeMap;

/// The cells of one table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ListedTable {
    /// Names of the columns, in lower case.
    pub columns: Vec<String>,
    /// Cells as written, by the name of what the row is about; the first row of a name stands.
    pub rows: BTreeMap<String, Vec<String>>,
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
    pub fn cell(&self, column: &str, [run, frame, balloon]: [Option<&str>; 3]) -> Option<&str> {
        let at = |table: &ListedTable| table.columns.iter().position(|name| name == column);
        let mut tables = self.tables.iter().zip([run, frame, balloon]);
        let (table, id, at) = tables.find_map(|(table, id)| Some((table, id, at(table)?)))?;
        let cell = table.rows.get(id?)?.get(at)?.trim();
        (!cell.is_empty()).then_some(cell)
    }
}
