//! Every cell of the tables of runs, frames and balloons, whether or not anything is read from its column.

use super::source::{Sources, Table};
use crate::recording::{Listed, ListedRow, ListedTable};

/// The tables, each with the column that names its rows, in the order of [`Listed`].
const TABLES: [(&str, &str); 3] = [
    ("runs", "run_id"),
    ("frames", "frame_id"),
    ("balloons", "balloon_id"),
];

pub(super) fn listed(sources: &Sources) -> Listed {
    Listed {
        tables: TABLES.map(|(name, id)| {
            let table = sources.table(name);
            table.map_or_else(ListedTable::default, |table| cells(table, id))
        }),
    }
}

fn cells(table: &Table, id: &str) -> ListedTable {
    let mut cells = ListedTable {
        file: table.file.clone(),
        columns: table.columns.clone(),
        comma: table.marks.decimal == ',',
        ..ListedTable::default()
    };
    let Some(at) = table.column(id) else {
        return cells;
    };
    for row in table.rows.iter() {
        let all = (0..table.columns.len()).map(|at| row.get(at).to_owned());
        let name = row.get(at).trim().to_owned();
        cells.rows.entry(name).or_insert_with(|| ListedRow {
            line: row.line,
            cells: all.collect(),
        });
    }
    cells
}
