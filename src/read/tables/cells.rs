//! Cells of a table as written, in one text: an outline has a hundred thousand of them.

/// Cells, row by row.
#[derive(Debug, Clone, Default)]
pub(super) struct Cells {
    /// All cells, one after the other.
    text: String,
    /// Where each cell ends in the text.
    ends: Vec<usize>,
    /// Line of each row, and the number of its first cell.
    rows: Vec<(u64, usize)>,
}

impl Cells {
    /// Number of rows.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Appends a row.
    pub fn push<'c>(&mut self, line: u64, cells: impl Iterator<Item = &'c str>) {
        self.rows.push((line, self.ends.len()));
        for cell in cells {
            self.text.push_str(cell);
            self.ends.push(self.text.len());
        }
    }

    /// The rows in order.
    pub fn iter(&self) -> impl Iterator<Item = RowCells<'_>> {
        let next = self.rows.iter().skip(1).map(|row| row.1);
        let ends = next.chain([self.ends.len()]);
        self.rows.iter().zip(ends).map(|(row, end)| RowCells {
            text: &self.text,
            start: row.1.checked_sub(1).map_or(0, |last| self.ends[last]),
            ends: &self.ends[row.1..end],
            line: row.0,
        })
    }
}

/// Cells of one row.
#[derive(Debug, Clone, Copy)]
pub(super) struct RowCells<'t> {
    text: &'t str,
    start: usize,
    ends: &'t [usize],
    /// Line in the file.
    pub line: u64,
}

impl<'t> RowCells<'t> {
    /// The cell of a column, empty where the row has none.
    pub fn get(&self, column: usize) -> &'t str {
        let Some(end) = self.ends.get(column) else {
            return "";
        };
        let start = column
            .checked_sub(1)
            .and_then(|before| self.ends.get(before))
            .unwrap_or(&self.start);
        self.text.get(*start..*end).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_come_back_as_they_were_put_in() {
        let rows: [(u64, &[&str]); 4] = [(2, &["a", "", "é"]), (3, &[]), (5, &[""]), (6, &["z"])];
        let mut cells = Cells::default();
        assert_eq!(cells.iter().count(), 0);
        for (line, row) in rows {
            cells.push(line, row.iter().copied());
        }
        assert_eq!(cells.len(), rows.len());
        for (found, (line, row)) in cells.iter().zip(rows) {
            assert_eq!(found.line, line);
            for column in 0..4 {
                let expected = row.get(column).copied().unwrap_or_default();
                assert_eq!(found.get(column), expected, "line {line}, column {column}");
            }
        }
    }
}
