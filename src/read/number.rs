//! Cells as numbers: decimal and thousands marks, and the words loggers write where there is no number.

/// Decimal and thousands mark of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Marks {
    /// Decimal mark, `.` or `,`.
    pub decimal: char,
    /// Thousands mark, if there is one; a blank stands for every kind of blank.
    pub thousands: Option<char>,
}

impl Marks {
    /// The plain point.
    pub const POINT: Self = Self {
        decimal: '.',
        thousands: None,
    };
}

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Cell {
    /// A finite number.
    Number(f64),
    /// Nothing, or a word for "no reading".
    Missing,
    /// Some other text.
    Text,
}

/// What loggers and spreadsheets write where there is no reading, in lower case (common practice, no source).
const MISSING_WORDS: &[&str] = &[
    "nan",
    "-nan",
    "+nan",
    "n/a",
    "na",
    "null",
    "none",
    "nil",
    "-",
    "--",
    "---",
    "----",
    "-----",
    "*",
    "**",
    "***",
    "****",
    "?",
    "ovl",
    "ovld",
    "over",
    "overload",
    "overflow",
    "overrange",
    "ol",
    "o.l.",
    "0l",
    "open",
    "err",
    "error",
    "inf",
    "+inf",
    "-inf",
    "infinity",
    "-infinity",
    "#num!",
    "#n/a",
    "#nv",
    "#value!",
    "#wert!",
    "#div/0!",
    "#ref!",
    "#name?",
    "1.#qnan",
    "-1.#qnan",
    "1.#ind",
    "-1.#ind",
    "1.#inf",
    "-1.#inf",
    "invalid",
    "missing",
    "no data",
];

/// Longest spelling of a number that is looked at, bytes.
const LONGEST: usize = 64;

/// Reads a cell.
pub(crate) fn read_cell(text: &str, marks: Marks) -> Cell {
    if let Some(number) = read_number(text, marks) {
        return Cell::Number(number);
    }
    let text = text.trim();
    if text.is_empty() || is_missing_word(text) {
        Cell::Missing
    } else {
        Cell::Text
    }
}

/// True for the words that stand for "no reading".
pub(crate) fn is_missing_word(text: &str) -> bool {
    text.len() <= 10 && {
        let lower = text.to_ascii_lowercase();
        MISSING_WORDS.contains(&lower.as_str())
    }
}

/// Powers of ten that are exact in binary floating point.
const EXACT_POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// Reads digits with at most one decimal mark, the usual case, exactly rounded: a whole number below 2^53 divided by an exact
/// power of ten rounds once (W. D. Clinger, How to read floating point numbers accurately, 1990). `None` for anything else.
pub(crate) fn read_plain(text: &str, decimal: char) -> Option<f64> {
    let bytes = text.as_bytes();
    let (negative, digits) = match bytes {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, bytes),
    };
    if digits.len() > 18 {
        return None;
    }
    let (mut whole, mut fraction, mut seen, mut any) = (0_u64, 0_usize, false, false);
    for byte in digits {
        if byte.is_ascii_digit() {
            whole = whole * 10 + u64::from(byte - b'0');
            fraction += usize::from(seen);
            any = true;
        } else if u32::from(*byte) == u32::from(decimal) && !seen {
            seen = true;
        } else {
            return None;
        }
    }
    if !any || whole > 1 << 53 {
        return None;
    }
    let value = whole as f64 / EXACT_POWERS.get(fraction)?;
    Some(if negative { -value } else { value })
}

/// Reads a finite number; `None` for anything else.
pub(crate) fn read_number(text: &str, marks: Marks) -> Option<f64> {
    let text = text.trim_matches([' ', '\t', '\u{a0}']);
    if let Some(number) = read_plain(text, marks.decimal) {
        return Some(number);
    }
    let first = *text.as_bytes().first()?;
    if marks.decimal == '.'
        && marks.thousands.is_none()
        && (first.is_ascii_digit() || matches!(first, b'-' | b'+' | b'.'))
        && let Ok(number) = text.parse::<f64>()
    {
        // `parse` also knows "-inf" and "-nan".
        return number.is_finite().then_some(number);
    }
    read_marked(text, marks)
}

/// A number with marks other than a plain point.
fn read_marked(text: &str, marks: Marks) -> Option<f64> {
    if text.len() > LONGEST {
        return None;
    }
    let (mantissa, exponent) = match text.find(['e', 'E']) {
        Some(at) => (&text[..at], &text[at..]),
        None => (text, ""),
    };
    // The rightmost decimal mark ends the whole part; the same mark before it can only group thousands
    // ("1.000.000" beside "900.000" is one thousand: some loggers use the point for both).
    let (whole, fraction) = match mantissa.rfind(marks.decimal) {
        Some(at) => (
            &mantissa[..at],
            Some(&mantissa[at + marks.decimal.len_utf8()..]),
        ),
        None => (mantissa, None),
    };
    let mut plain = [0_u8; LONGEST + 4];
    let mut length = 0;
    let mut push = |byte: u8| {
        if let Some(slot) = plain.get_mut(length) {
            *slot = byte;
            length += 1;
        }
    };
    let (negative, digits) = match whole.chars().next() {
        Some(sign @ ('-' | '\u{2212}')) => (true, &whole[sign.len_utf8()..]),
        Some('+') => (false, &whole[1..]),
        _ => (false, whole),
    };
    if negative {
        push(b'-');
    }
    let mut grouped = false;
    let mut group = 0;
    for character in digits.chars() {
        if character.is_ascii_digit() {
            push(character as u8);
            group += 1;
        } else if is_group_mark(character, marks) {
            if group == 0 || group > 3 || (grouped && group != 3) {
                return None;
            }
            grouped = true;
            group = 0;
        } else {
            return None;
        }
    }
    if grouped && group != 3 {
        return None;
    }
    if let Some(fraction) = fraction {
        push(b'.');
        for byte in fraction.bytes() {
            if !byte.is_ascii_digit() {
                return None;
            }
            push(byte);
        }
    }
    for byte in exponent.bytes() {
        push(byte);
    }
    let number: f64 = std::str::from_utf8(plain.get(..length)?)
        .ok()?
        .parse()
        .ok()?;
    number.is_finite().then_some(number)
}

fn is_group_mark(character: char, marks: Marks) -> bool {
    match marks.thousands {
        Some(' ') => matches!(character, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}'),
        Some('\'') => matches!(character, '\'' | '\u{2019}'),
        Some(mark) if mark == character => true,
        _ => character == marks.decimal,
    }
}

/// True where a number uses its decimal mark for thousands as well ("1.000.000" with a decimal point).
pub(crate) fn doubled_mark(text: &str, marks: Marks) -> bool {
    marks.thousands != Some(marks.decimal)
        && text.matches(marks.decimal).count() > 1
        && read_number(text, marks).is_some()
}

/// What the marks in one cell say of the file's marks.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct MarkVotes {
    /// Cells in which the point must be decimal.
    pub point: usize,
    /// Cells in which the comma must be decimal.
    pub comma: usize,
    /// Cells like `1.234`.
    pub point_unclear: usize,
    /// Cells like `1,234`.
    pub comma_unclear: usize,
    /// Cells with the point grouping thousands for certain.
    pub point_groups: usize,
    /// Cells with the comma grouping thousands for certain.
    pub comma_groups: usize,
    /// Cells with blanks grouping thousands.
    pub blank_groups: usize,
}

impl MarkVotes {
    /// Counts a cell in.
    pub fn add(&mut self, text: &str) {
        let text = text.trim();
        let body = text.trim_start_matches(['-', '+']);
        if !body.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == ',') {
            return;
        }
        let mut mantissa = body;
        let (mut points, mut commas, mut has_blank) = (0_usize, 0_usize, false);
        for (at, byte) in body.bytes().enumerate() {
            let counts = at < mantissa.len();
            match byte {
                b'e' | b'E' if counts => mantissa = &body[..at],
                b'0'..=b'9' | b'+' | b'-' | b'e' | b'E' => {}
                b'.' => points += usize::from(counts),
                b',' => commas += usize::from(counts),
                b' ' => has_blank |= counts,
                _ => return,
            }
        }
        let blanks = |decimal| Marks {
            decimal,
            thousands: Some(' '),
        };
        if has_blank
            && (read_number(text, blanks('.')).is_some()
                || read_number(text, blanks(',')).is_some())
        {
            self.blank_groups += 1;
        }
        match (points, commas) {
            (0, 0) => {}
            (1, 0) => {
                let unclear = grouped(mantissa, '.');
                *(if unclear {
                    &mut self.point_unclear
                } else {
                    &mut self.point
                }) += 1;
            }
            (0, 1) => {
                let unclear = grouped(mantissa, ',');
                *(if unclear {
                    &mut self.comma_unclear
                } else {
                    &mut self.comma
                }) += 1;
            }
            (_, 0) if grouped(mantissa, '.') => self.point_groups += 1,
            (0, _) if grouped(mantissa, ',') => self.comma_groups += 1,
            (_, 1) if mantissa.rfind(',') > mantissa.rfind('.') => {
                self.comma += 1;
                self.point_groups += 1;
            }
            (1, _) if mantissa.rfind('.') > mantissa.rfind(',') => {
                self.point += 1;
                self.comma_groups += 1;
            }
            _ => {}
        }
    }

    /// The marks these votes speak for, and whether that had to be taken rather than seen.
    pub fn marks(self, delimiter: char) -> (Marks, bool) {
        let grouping = |mark, seen: bool| seen.then_some(mark);
        let blank = grouping(' ', self.blank_groups > 0);
        let comma = |unclear| {
            (
                Marks {
                    decimal: ',',
                    thousands: grouping('.', self.point_groups + self.point_unclear > 0).or(blank),
                },
                unclear,
            )
        };
        let point = |unclear| {
            (
                Marks {
                    decimal: '.',
                    thousands: grouping(',', self.comma_groups + self.comma_unclear > 0).or(blank),
                },
                unclear,
            )
        };
        if self.point > 0 || self.comma > 0 {
            return if self.point >= self.comma {
                point(self.comma > 0)
            } else {
                comma(self.point > 0)
            };
        }
        match (self.point_groups > 0, self.comma_groups > 0) {
            (true, false) => return comma(false),
            (false, true) => return point(false),
            _ => {}
        }
        match (self.point_unclear > 0, self.comma_unclear > 0) {
            // Only numbers like "1,234": with a comma between cells the comma in quotes groups, else it is decimal.
            (false, true) if delimiter == ',' => point(true),
            (false, true) => (
                Marks {
                    decimal: ',',
                    thousands: blank,
                },
                true,
            ),
            (true, true) => point(true),
            (unclear, false) => (
                Marks {
                    decimal: '.',
                    thousands: blank,
                },
                unclear,
            ),
        }
    }
}

/// True for digits in groups of three (`12.345`, `1.234.567`), not led by 0.
fn grouped(mantissa: &str, mark: char) -> bool {
    let mut parts = mantissa.split(mark);
    let head = parts.next().unwrap_or_default();
    (1..=3).contains(&head.len()) && !head.starts_with('0') && parts.all(|part| part.len() == 3)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn marks(decimal: char, thousands: Option<char>) -> Marks {
        Marks { decimal, thousands }
    }

    #[test]
    fn numbers_of_every_dialect_are_read() {
        let german = marks(',', Some('.'));
        for (text, marks, value) in [
            ("1.5", Marks::POINT, 1.5),
            (" -0.25 ", Marks::POINT, -0.25),
            ("+3", Marks::POINT, 3.0),
            (".5", Marks::POINT, 0.5),
            ("1.25E-03", Marks::POINT, 0.00125),
            ("1,5", marks(',', None), 1.5),
            ("-1,25e2", marks(',', None), -125.0),
            ("\u{2212}1,5", marks(',', None), -1.5),
            ("1.234,5", german, 1234.5),
            ("1.234.567", german, 1_234_567.0),
            ("1,234.5", marks('.', Some(',')), 1234.5),
            ("1\u{a0}234,5", marks(',', Some(' ')), 1234.5),
            ("1'234.5", marks('.', Some('\'')), 1234.5),
            ("1.000.250", Marks::POINT, 1000.25),
        ] {
            assert_eq!(read_number(text, marks), Some(value), "{text}");
        }
    }

    #[test]
    fn the_short_way_rounds_as_the_standard_library_does() {
        let mut state = 7_u64;
        for _ in 0..20_000 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let whole = state >> (12 + state % 50);
            let text = format!(
                "-{whole}.{:0width$}",
                state % 9973,
                width = 4 + (state % 3) as usize
            );
            if let Some(number) = read_plain(&text, '.') {
                assert_eq!(number, text.parse::<f64>().unwrap(), "{text}");
            }
        }
        assert_eq!(read_plain("9007199254740993", '.'), None);
        assert_eq!(read_plain("0,1", ','), Some(0.1));
    }

    #[test]
    fn words_and_nonsense_are_no_numbers() {
        for text in [
            "", " ", "NaN", "-inf", "1e999", "1..2", "1.2.3", "0x10", "12 kPa", "1,2", "--5", "e5",
            "1 2", "+",
        ] {
            assert_eq!(read_number(text, Marks::POINT), None, "{text}");
        }
        assert_eq!(read_number("1,23", marks('.', Some(','))), None);
        assert_eq!(read_cell("OVL", Marks::POINT), Cell::Missing);
        assert_eq!(read_cell("#NUM!", Marks::POINT), Cell::Missing);
        assert_eq!(read_cell("---", Marks::POINT), Cell::Missing);
        assert_eq!(read_cell("wide", Marks::POINT), Cell::Text);
    }

    #[test]
    fn marks_follow_from_the_cells() {
        let of = |cells: &[&str], delimiter| {
            let mut votes = MarkVotes::default();
            for cell in cells {
                votes.add(cell);
            }
            votes.marks(delimiter)
        };
        assert_eq!(of(&["0.5", "12"], ','), (Marks::POINT, false));
        assert_eq!(of(&["0,5", "12"], ';'), (marks(',', None), false));
        assert_eq!(of(&["1.234,5", "0,5"], ';'), (marks(',', Some('.')), false));
        assert_eq!(of(&["1,234.5"], ','), (marks('.', Some(',')), false));
        assert_eq!(of(&["1,234", "0.5"], ';'), (marks('.', Some(',')), false));
        assert_eq!(of(&["1.234.567"], ';'), (marks(',', Some('.')), false));
        assert_eq!(of(&["1.000.000", "0.000"], ';'), (Marks::POINT, false));
        assert_eq!(of(&["1,234", "999"], ';'), (marks(',', None), true));
        assert_eq!(of(&["7.666"], ';'), (Marks::POINT, true));
    }
}
