//! Text as lines, and lines as cells.

use std::borrow::Cow;

/// Longest line that is read, bytes; anything longer is no table.
pub(crate) const LONGEST_LINE: usize = 1 << 20;

/// A line of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Line<'t> {
    /// Number, counted from 1.
    pub number: u64,
    /// Text without the line end.
    pub text: &'t str,
    /// Byte at which it starts.
    pub start: usize,
    /// True where a line end follows (the last line of a cut file has none).
    pub ended: bool,
}

/// Lines of a text with `\n`, `\r\n` or `\r` between them.
#[derive(Debug, Clone)]
pub(crate) struct Lines<'t> {
    text: &'t str,
    at: usize,
    number: u64,
    end: u8,
}

impl<'t> Lines<'t> {
    /// All lines.
    pub fn new(text: &'t str) -> Self {
        Self::from(text, 0, 1)
    }

    /// The lines from a byte on, which begins line `number`.
    pub fn from(text: &'t str, at: usize, number: u64) -> Self {
        Self {
            text,
            at,
            number,
            end: line_end(text),
        }
    }
}

impl<'t> Iterator for Lines<'t> {
    type Item = Line<'t>;

    fn next(&mut self) -> Option<Line<'t>> {
        let rest = self.text.get(self.at..)?;
        if rest.is_empty() {
            return None;
        }
        let start = self.at;
        let (text, ended) = if let Some(length) = memchr::memchr(self.end, rest.as_bytes()) {
            self.at += length + 1;
            (&rest[..length], true)
        } else {
            self.at = self.text.len();
            (rest, false)
        };
        let number = self.number;
        self.number += 1;
        Some(Line {
            number,
            text: text.trim_end_matches('\r'),
            start,
            ended,
        })
    }
}

/// The byte that ends the lines of a text: old exports end them with a carriage return alone.
pub(crate) fn line_end(text: &str) -> u8 {
    if memchr::memchr(b'\n', text.as_bytes()).is_some() {
        b'\n'
    } else {
        b'\r'
    }
}

/// True for blank lines and remarks.
pub(crate) fn is_skipped(line: &str, comment: Option<&str>) -> bool {
    let text = line.trim_start();
    text.is_empty() || comment.is_some_and(|mark| text.starts_with(mark))
}

/// Splits a line into cells; cells in double quotes lose them. `' '` splits at runs of blanks and tabs.
pub(crate) fn split<'t>(line: &'t str, delimiter: char, cells: &mut Vec<&'t str>) {
    cells.clear();
    if delimiter == ' ' {
        return split_blanks(line, cells);
    }
    if !line.contains('"') {
        let mut start = 0;
        for (at, byte) in line.bytes().enumerate() {
            if u32::from(byte) == u32::from(delimiter) {
                cells.push(&line[start..at]);
                start = at + 1;
            }
        }
        cells.push(&line[start..]);
        return;
    }
    let mut rest = line;
    loop {
        let (cell, tail) = next_cell(rest, delimiter);
        cells.push(cell);
        match tail {
            Some(tail) => rest = tail,
            None => return,
        }
    }
}

/// The first cell and what follows its delimiter.
fn next_cell(rest: &str, delimiter: char) -> (&str, Option<&str>) {
    let inner = rest.trim_start_matches(' ');
    if let Some(quoted) = inner.strip_prefix('"')
        && let Some(end) = closing_quote(quoted)
    {
        let after = &quoted[end + 1..];
        let tail = after
            .find(delimiter)
            .map(|at| &after[at + delimiter.len_utf8()..]);
        return (&quoted[..end], tail);
    }
    match rest.find(delimiter) {
        Some(at) => (&rest[..at], Some(&rest[at + delimiter.len_utf8()..])),
        // An opening quote that never closes: the line was cut.
        None => (rest.trim_start_matches([' ', '"']), None),
    }
}

/// Position of the quote that ends a quoted cell; two in a row stand for one.
fn closing_quote(text: &str) -> Option<usize> {
    let bytes = text.as_bytes();
    let mut at = 0;
    while let Some(found) = text.get(at..)?.find('"') {
        let quote = at + found;
        if bytes.get(quote + 1) == Some(&b'"') {
            at = quote + 2;
        } else {
            return Some(quote);
        }
    }
    None
}

fn split_blanks<'t>(line: &'t str, cells: &mut Vec<&'t str>) {
    let mut rest = line.trim();
    while !rest.is_empty() {
        if let Some(quoted) = rest.strip_prefix('"')
            && let Some(end) = closing_quote(quoted)
        {
            cells.push(&quoted[..end]);
            rest = quoted[end + 1..].trim_start();
            continue;
        }
        let end = rest.find(char::is_whitespace).unwrap_or(rest.len());
        cells.push(&rest[..end]);
        rest = rest[end..].trim_start();
    }
}

/// Splits a header line of a table whose cells are parted by blanks into so many names: names may hold single blanks, and a
/// bracket belongs to the name before it.
pub(crate) fn split_blank_header(line: &str, width: usize) -> Vec<String> {
    let mut cells = Vec::new();
    split(line, ' ', &mut cells);
    if cells.len() == width || line.contains('"') {
        return cells.iter().map(|cell| (*cell).to_owned()).collect();
    }
    let wide: Vec<String> = line
        .trim()
        .replace('\t', "  ")
        .split("  ")
        .map(str::trim)
        .filter(|cell| !cell.is_empty())
        .map(str::to_owned)
        .collect();
    if wide.len() == width {
        return wide;
    }
    let mut names: Vec<String> = Vec::new();
    for cell in cells {
        match names.last_mut() {
            Some(last) if cell.starts_with(['[', '(']) => {
                last.push(' ');
                last.push_str(cell);
            }
            _ => names.push(cell.to_owned()),
        }
    }
    names
}

/// A cell as text: outer blanks gone, doubled quotes single.
pub(crate) fn clean(cell: &str) -> Cow<'_, str> {
    let text = cell.trim();
    if memchr::memchr(b'"', text.as_bytes()).is_none() {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.replace("\"\"", "\""))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(line: &str, delimiter: char) -> Vec<&str> {
        let mut cells = Vec::new();
        split(line, delimiter, &mut cells);
        cells
    }

    #[test]
    fn lines_end_in_every_way() {
        for text in ["a\nb\n", "a\r\nb\r\n", "a\rb\r", "a\nb", "a\r\nb"] {
            let lines: Vec<_> = Lines::new(text)
                .map(|line| (line.number, line.text))
                .collect();
            assert_eq!(lines, [(1, "a"), (2, "b")], "{text:?}");
        }
        assert_eq!(
            Lines::new("a\nb").last().map(|line| line.ended),
            Some(false)
        );
        assert_eq!(Lines::new("").count(), 0);
        assert_eq!(Lines::new("\n\n").count(), 2);
    }

    #[test]
    fn cells_are_split_with_and_without_quotes() {
        assert_eq!(cells("1,2,3", ','), ["1", "2", "3"]);
        assert_eq!(cells("1,,", ','), ["1", "", ""]);
        assert_eq!(cells("\"a, b\";\"c\"\"d\";", ';'), ["a, b", "c\"\"d", ""]);
        assert_eq!(clean("c\"\"d "), "c\"d");
        assert_eq!(cells("\"1,741\",\"-0.5", ','), ["1,741", "-0.5"]);
        assert_eq!(cells("  1.5\t2  3 ", ' '), ["1.5", "2", "3"]);
        assert_eq!(cells("5\" pipe,2", ','), ["5\" pipe", "2"]);
        assert_eq!(
            split_blank_header("Time [s]   P [kPa]", 2),
            ["Time [s]", "P [kPa]"]
        );
        assert_eq!(
            split_blank_header("Time [s] P [kPa]", 2),
            ["Time [s]", "P [kPa]"]
        );
    }
}
