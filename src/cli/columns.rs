//! Cells in columns, for the terminal.

/// Rows as lines: every column as wide as its widest cell, two blanks between, the first to the left and the others to the right.
pub(super) fn columns(rows: &[Vec<String>]) -> String {
    let mut widths: Vec<usize> = Vec::new();
    for row in rows {
        widths.resize(widths.len().max(row.len()), 0);
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (at, (cell, width)) in row.iter().zip(&widths).enumerate() {
            let blanks = " ".repeat(width - cell.chars().count());
            match at {
                0 => line.extend(["  ", cell, &blanks]),
                _ => line.extend(["  ", &blanks, cell]),
            }
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::columns;

    #[test]
    fn numbers_stand_below_each_other() {
        let rows = [vec!["a", "10.5"], vec!["long", "1"]];
        let rows = rows.map(|row| row.into_iter().map(str::to_owned).collect::<Vec<_>>());
        assert_eq!(columns(&rows), "  a     10.5\n  long     1\n");
    }
}
