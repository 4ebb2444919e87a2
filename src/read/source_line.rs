//! The line of a text file that a finding points at, and which part of it is meant.

use super::encoding::decode;
use super::split::{Line, Lines, clean, split};
use crate::recording::Finding;
use std::io::Read;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// A line is looked for in so many bytes of its file; beyond them a finding goes without its line.
const REACH: u64 = 16 << 20;
/// A line is shown in a window of so many characters, so that with its number it fits a screen of 100.
const WINDOW: usize = 88;
/// Characters kept before the mark where the window does not begin with the line.
const BEFORE: usize = 30;
/// The header of a table stands among so many of its first lines.
const HEADER_WITHIN: usize = 400;
/// Delimiters of tables and recordings.
const DELIMITERS: [char; 5] = ['\t', ';', '|', ',', ' '];

/// A line as it stands in its file, or a window of it, with the part meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceLine {
    /// Number of the line, from 1.
    pub number: u64,
    /// Its text; `…` stands where the line goes on beyond the window.
    pub text: String,
    /// The part meant, in characters of `text`; the whole line where no part is known.
    pub mark: Range<usize>,
}

/// Looks up the lines of findings. The text of the last file is kept, since findings come file by file.
#[derive(Debug, Default)]
pub struct SourceLines {
    folder: Option<PathBuf>,
    last: Option<(String, Option<String>)>,
}

impl SourceLines {
    /// For findings whose files are named relative to a study folder; nothing outside it is opened.
    pub fn of_study(folder: &Path) -> Self {
        Self {
            folder: Some(folder.to_owned()),
            last: None,
        }
    }

    /// For findings whose files are named as they were typed.
    pub fn of_files() -> Self {
        Self::default()
    }

    /// The line a finding points at; `None` where it has none, the file is no text, or the line lies too deep in it.
    pub fn find(&mut self, finding: &Finding) -> Option<SourceLine> {
        let (file, number) = (finding.file.as_deref()?, finding.line?);
        let toml = Path::new(file)
            .extension()
            .is_some_and(|ending| ending.eq_ignore_ascii_case("toml"));
        let text = self.text(file)?;
        let at = usize::try_from(number.checked_sub(1)?).ok()?;
        let line = Lines::new(text).nth(at)?;
        let part = finding.column.as_deref().and_then(|column| {
            if toml {
                token(line.text, column.parse().ok()?)
            } else {
                cell(text, &line, column)
            }
        });
        Some(window(number, line.text, part))
    }

    fn text(&mut self, file: &str) -> Option<&str> {
        if self.last.as_ref().is_none_or(|(name, _)| name != file) {
            let text = self.load(file);
            self.last = Some((file.to_owned(), text));
        }
        self.last.as_ref()?.1.as_deref()
    }

    fn load(&self, file: &str) -> Option<String> {
        let path = match &self.folder {
            Some(folder) => folder.join(crate::rig::inside(folder, file).ok()?),
            None => PathBuf::from(file),
        };
        if !std::fs::metadata(&path).ok()?.is_file() {
            return None;
        }
        let mut bytes = Vec::new();
        let mut reader = std::fs::File::open(path).ok()?.take(REACH);
        reader.read_to_end(&mut bytes).ok()?;
        Some(decode(bytes, None, file).ok()?.text)
    }
}

/// The key or value that begins at a character of a TOML line, counted from 1.
fn token(line: &str, column: usize) -> Option<Range<usize>> {
    let start = column.checked_sub(1)?;
    let mut rest = line.chars().skip(start).enumerate();
    let Some((_, first)) = rest.next() else {
        // Right behind the line is where something is missing.
        return (start == line.chars().count()).then_some(start..start + 1);
    };
    let length = match first {
        '"' | '\'' => {
            let mut escaped = false;
            rest.find(|(_, c)| {
                let ends = *c == first && !escaped;
                escaped = *c == '\\' && first == '"' && !escaped;
                ends
            })
            .map(|(at, _)| at + 1)
        }
        '[' | '{' => {
            let mut depth = 1;
            rest.find(|(_, c)| {
                match c {
                    '[' | '{' => depth += 1,
                    ']' | '}' => depth -= 1,
                    _ => {}
                }
                depth == 0
            })
            .map(|(at, _)| at + 1)
        }
        _ => rest
            .find(|(_, c)| c.is_whitespace() || matches!(c, '=' | ',' | '#' | ']' | '}'))
            .map(|(at, _)| at),
    };
    let to_end = || line.trim_end().chars().count().max(start + 1) - start;
    Some(start..start + length.unwrap_or_else(to_end))
}

/// The cell of a named or numbered column in a line of a table.
fn cell(text: &str, line: &Line<'_>, column: &str) -> Option<Range<usize>> {
    let mut cells = Vec::new();
    let (delimiter, at) = header_cell(text, column, line.number).or_else(|| {
        // A column without a name goes by its number.
        let at: usize = column.parse().ok()?;
        let delimiter = DELIMITERS.iter().copied().find(|delimiter| {
            split(line.text, *delimiter, &mut cells);
            cells.len() > at.max(1)
        })?;
        Some((delimiter, at))
    })?;
    split(line.text, delimiter, &mut cells);
    let Some(found) = cells.get(at) else {
        // The row ends before the column: what is missing is missing at its end.
        let end = line.text.chars().count();
        return Some(end..end + 1);
    };
    let start = (found.as_ptr() as usize).checked_sub(line.text.as_ptr() as usize)?;
    let before = line.text.get(..start)?.chars().count();
    let blank = found.chars().take_while(|c| c.is_whitespace()).count();
    let length = found.trim().chars().count().max(1);
    Some(before + blank..before + blank + length)
}

/// The delimiter and number of the column that a header above the line, or the line itself, names so; a unit may follow the name.
fn header_cell(text: &str, column: &str, until: u64) -> Option<(char, usize)> {
    let wanted = column.trim().to_lowercase();
    let mut cells = Vec::new();
    let mut begins = None;
    for line in Lines::new(text)
        .take(HEADER_WITHIN)
        .take_while(|line| line.number <= until)
    {
        for delimiter in DELIMITERS {
            split(line.text, delimiter, &mut cells);
            if cells.len() < 2 && delimiter != ',' {
                continue;
            }
            for (at, cell) in cells.iter().enumerate() {
                let name = clean(cell).to_lowercase();
                if name == wanted {
                    return Some((delimiter, at));
                }
                let unit_follows = name
                    .strip_prefix(&wanted)
                    .is_some_and(|tail| tail.starts_with(['_', ' ', '[', '(']));
                if unit_follows && !wanted.is_empty() {
                    begins.get_or_insert((delimiter, at));
                }
            }
        }
    }
    begins
}

/// The line, or the window of a long one around the part meant.
fn window(number: u64, line: &str, part: Option<Range<usize>>) -> SourceLine {
    let length = line.trim_end().chars().count();
    let indent = line.chars().take_while(|c| c.is_whitespace()).count();
    let part = part.unwrap_or(indent.min(length)..length);
    let from = if part.end <= WINDOW {
        0
    } else {
        part.start.saturating_sub(BEFORE)
    };
    let to = (from + WINDOW).min(length.max(from));
    let mut text = String::new();
    if from > 0 {
        text.push('…');
    }
    text.extend(
        line.chars()
            .skip(from)
            .take(to - from)
            .map(|c| if c.is_control() { ' ' } else { c }),
    );
    if to < length {
        text.push('…');
    }
    let shift = usize::from(from > 0);
    let start = part.start - from + shift;
    let end = (part.end.min(to.max(part.start + 1)) - from + shift).max(start + 1);
    SourceLine {
        number,
        text,
        mark: start..end,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_or_value_is_marked_to_its_end() {
        for (line, column, part) in [
            ("unit = \"kpaa\" # x", 8, "\"kpaa\""),
            ("a = \"x\\\"y\", 2", 5, "\"x\\\"y\""),
            ("range_kpa = [5, [1]] # x", 13, "[5, [1]]"),
            ("[[channel]]", 1, "[[channel]]"),
            ("[clock]", 2, "clock"),
            ("presure_kpa=101", 1, "presure_kpa"),
            ("x = 1e9", 5, "1e9"),
            ("ä = \"kpa", 5, "\"kpa"),
        ] {
            let mark = token(line, column).unwrap_or_default();
            let marked: String = line
                .chars()
                .skip(mark.start)
                .take(mark.end - mark.start)
                .collect();
            assert_eq!(marked, part, "{line}");
        }
        assert_eq!(token("a", 2), Some(1..2));
        assert!(token("a", 0).is_none() && token("a", 9).is_none());
    }

    #[test]
    fn a_cell_is_found_by_the_name_of_its_column() {
        let text = "# made by hand\nrun_id;Value ;\"true_id_mm\"\nr1; 23,4;\"2,3\"\nr2\n";
        let marked = |number: usize, column: &str| {
            let line = Lines::new(text).nth(number - 1)?;
            let mark = cell(text, &line, column)?;
            let length = mark.end - mark.start;
            Some(
                line.text
                    .chars()
                    .skip(mark.start)
                    .take(length)
                    .collect::<String>(),
            )
        };
        assert_eq!(marked(3, "value").as_deref(), Some("23,4"));
        assert_eq!(marked(3, "true_id").as_deref(), Some("2,3"));
        assert_eq!(marked(2, "value").as_deref(), Some("Value"));
        assert_eq!(marked(4, "value").as_deref(), Some(""));
        assert_eq!(marked(3, "1").as_deref(), Some("23,4"));
        assert_eq!(marked(3, "nothing"), None);
    }

    #[test]
    fn a_long_line_is_shown_through_a_window() {
        let line = "0123456789".repeat(1000);
        let shown = window(7, &line, Some(5003..5006));
        assert!(shown.text.starts_with('…') && shown.text.ends_with('…'));
        assert_eq!(shown.text.chars().count(), WINDOW + 2);
        let marked: String = shown.text.chars().skip(shown.mark.start).take(3).collect();
        assert_eq!((marked.as_str(), shown.mark.len()), ("345", 3));
        assert_eq!(window(1, "  ab ", None).mark, 2..4);
        assert_eq!(window(1, "", None).mark, 0..1);
        assert_eq!(window(1, "a\tb", Some(2..3)).text, "a b");
    }
}
