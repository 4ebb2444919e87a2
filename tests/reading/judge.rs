//! A slow, clear reader of recordings whose dialect is declared, by the csv crate and the number parser of the standard library:
//! the judge of the reader that is made to be fast. It says what the rules are, one after another, and nothing of how to be quick.
//!
//! Left out on purpose: everything that is sniffed, other clocks than elapsed seconds and a rate, thousands marks, blanks as
//! delimiter, encodings other than UTF-8, rows of group names. [`Dialect::in_scope`] says which texts it does not judge.

/// What a rig declares of a recording.
#[derive(Debug, Clone)]
pub struct Dialect {
    /// Comma, semicolon, tab or bar.
    pub delimiter: char,
    /// Point or comma; there is no thousands mark.
    pub decimal: char,
    /// What begins a line that is a remark.
    pub comment: Option<&'static str>,
    /// Lines before the header.
    pub skip_lines: usize,
    /// Rows of the header: 0 to 2.
    pub header_rows: usize,
    /// Column of elapsed seconds; `None` for a clock that counts rows at [`RATE_HZ`].
    pub time_column: Option<usize>,
    /// Columns of the channels, the pressure first.
    pub channels: Vec<usize>,
}

/// A data row.
#[derive(Debug, Clone)]
pub struct Row {
    /// Line, from 1.
    pub line: u64,
    /// Seconds since the first readable stamp; NaN where unreadable.
    pub time_s: f64,
    /// A value a channel; NaN where there is no reading.
    pub values: Vec<f64>,
}

/// Rows a second of the clock that counts rows.
pub const RATE_HZ: f64 = 30.0;
/// From this first stamp on the whole part and the fraction of a stamp are counted apart, so that it keeps its fraction.
const LARGE: f64 = 1e6;
/// Numbers with marks of their own (all but those the standard library reads) are at most so long, bytes.
const LONGEST_NUMBER: usize = 64;
/// A longer line is no table, bytes.
const LONGEST_LINE: usize = 1 << 20;
/// The header is looked for among so many lines, the dialect in so many.
const DEEPEST_HEADER: usize = 20_000;
const SAMPLED: usize = 300;

/// What stands for "no reading", whatever its case; anything else that is no number is a word.
const MISSING: &str = "nan -nan +nan n/a na null none nil - -- --- ---- ----- * ** *** **** ? ovl ovld over overload overflow \
    overrange ol o.l. 0l open err error inf +inf -inf infinity -infinity #num! #n/a #nv #value! #wert! #div/0! #ref! #name? \
    1.#qnan -1.#qnan 1.#ind -1.#ind 1.#inf -1.#inf invalid missing";

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Cell {
    Number(f64),
    Missing,
    Word,
}

impl Dialect {
    /// The rig file that declares it.
    pub fn rig(&self) -> String {
        let delimiter = if self.delimiter == '\t' {
            "tab".to_owned()
        } else {
            self.delimiter.to_string()
        };
        let clock = match self.time_column {
            Some(column) => format!("kind = \"relative\"\ncolumn = {column}\nunit = \"s\""),
            None => format!("kind = \"rate\"\nrate_hz = {RATE_HZ}"),
        };
        let mut rig = format!(
            "[dialect]\nmode = \"given\"\ndelimiter = \"{delimiter}\"\ndecimal = \"{}\"\nthousands = \"\"\nencoding = \"utf-8\"\n\
             skip_lines = {}\nheader_rows = {}\ncomment = \"{}\"\n[clock]\n{clock}\n",
            self.decimal,
            self.skip_lines,
            self.header_rows,
            self.comment.unwrap_or_default()
        );
        let quantities = [
            ("pressure", "kPa"),
            ("volume", "mL"),
            ("diameter", "mm"),
            ("force", "N"),
        ];
        for (column, (quantity, unit)) in self.channels.iter().zip(quantities) {
            rig.push_str(&format!(
                "[[channel]]\nquantity = \"{quantity}\"\ncolumn = {column}\nunit = \"{unit}\"\n"
            ));
        }
        rig
    }

    /// True for texts it judges: no control characters and no mark of another encoding, the header not too deep.
    pub fn in_scope(&self, text: &str) -> bool {
        let plain = |c: char| {
            !c.is_control() && c != '\u{feff}' && c != '\u{fffd}' || matches!(c, '\t' | '\r' | '\n')
        };
        // The first bytes of pictures, archives and the like can be letters.
        let magic = ["GIF8", "%PDF", "BZh", "TDSm", "MATLAB", "PAR1", "SQLite"];
        let header = self
            .lines(text)
            .take(DEEPEST_HEADER)
            .filter(|(_, line, _)| self.is_useful(line));
        text.chars().all(plain)
            && !magic.iter().any(|magic| text.starts_with(magic))
            && self
                .lines(text)
                .all(|(_, line, _)| line.len() <= LONGEST_LINE)
            && header.take(self.header_rows + 1).count() > self.header_rows
    }

    /// Lines behind those to be skipped: number, text, and whether a line end follows. They end with a line feed, and the carriage
    /// returns before it go with it; in a text without any line feed they end with a carriage return.
    fn lines<'t>(&self, text: &'t str) -> impl Iterator<Item = (u64, &'t str, bool)> + use<'t> {
        let end = if text.contains('\n') { '\n' } else { '\r' };
        let pieces = text.split(end).count();
        text.split(end)
            .enumerate()
            .filter(move |(at, line)| at + 1 < pieces || !line.is_empty())
            .map(move |(at, line)| (at as u64 + 1, line.trim_end_matches('\r'), at + 1 < pieces))
            .skip(self.skip_lines)
    }

    /// Neither blank nor a remark.
    fn is_useful(&self, line: &str) -> bool {
        let line = line.trim_start();
        !line.is_empty() && self.comment.is_none_or(|mark| !line.starts_with(mark))
    }

    /// The cells of a line. Where a quote stands in it the csv crate has other rules: here a cell that begins with a quote, perhaps
    /// behind blanks, goes to the next quote that is not doubled, and what follows up to the delimiter is dropped; a quote that
    /// never closes is a letter like others, but dropped at the head of the last cell, since then the line was cut.
    fn cells(&self, line: &str) -> Vec<String> {
        if !line.contains('"') {
            let mut reader = csv::ReaderBuilder::new()
                .delimiter(self.delimiter as u8)
                .terminator(csv::Terminator::Any(b'\n'))
                .has_headers(false)
                .quoting(false)
                .buffer_capacity(line.len())
                .from_reader(line.as_bytes());
            let record = reader.records().next().expect("a line").expect("a record");
            return record.iter().map(str::to_owned).collect();
        }
        let mut cells = Vec::new();
        let mut rest = line;
        loop {
            let inside = rest.trim_start_matches(' ').strip_prefix('"');
            let closed = inside.and_then(|inside| {
                // Doubled quotes are no end: put two other bytes in their place to find the one that is.
                let end = inside.replace("\"\"", "\0\0").find('"')?;
                Some((&inside[..end], &inside[end + 1..]))
            });
            let (cell, after) = match closed {
                Some((cell, after)) => (Some(cell), after),
                None => (None, rest),
            };
            match after.split_once(self.delimiter) {
                Some((before, tail)) => {
                    cells.push(cell.unwrap_or(before).to_owned());
                    rest = tail;
                }
                None => {
                    cells.push(
                        cell.unwrap_or(after.trim_start_matches([' ', '"']))
                            .to_owned(),
                    );
                    return cells;
                }
            }
        }
    }

    /// The number in a cell, if there is one: digits with at most one decimal mark, sign and exponent, blanks around it. A decimal
    /// mark that stands more than once groups thousands but for the last. Infinity is no number.
    fn number(&self, cell: &str) -> Option<f64> {
        let text = cell.trim_matches([' ', '\t', '\u{a0}']);
        if self.decimal == '.'
            && text.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c))
            && let Ok(number) = text.parse::<f64>()
        {
            return number.is_finite().then_some(number);
        }
        if text.len() > LONGEST_NUMBER {
            return None;
        }
        let (mantissa, exponent) = text.split_at(text.find(['e', 'E']).unwrap_or(text.len()));
        let (sign, mantissa) = match mantissa.strip_prefix(['-', '\u{2212}']) {
            Some(mantissa) => ("-", mantissa),
            None => ("", mantissa.strip_prefix('+').unwrap_or(mantissa)),
        };
        let mut parts: Vec<&str> = mantissa.split(self.decimal).collect();
        if !parts
            .iter()
            .all(|part| part.bytes().all(|byte| byte.is_ascii_digit()))
        {
            return None;
        }
        let fraction = if parts.len() > 1 { parts.pop()? } else { "" };
        let grouped = parts.len() < 2
            || (1..=3).contains(&parts[0].len()) && parts[1..].iter().all(|part| part.len() == 3);
        let number = format!("{sign}{}.{fraction}{exponent}", parts.concat()).parse::<f64>();
        number.ok().filter(|number| grouped && number.is_finite())
    }

    fn cell(&self, text: &str) -> Cell {
        if let Some(number) = self.number(text) {
            return Cell::Number(number);
        }
        let word = text.trim().to_ascii_lowercase();
        let missing =
            word.is_empty() || word == "no data" || MISSING.split(' ').any(|known| known == word);
        if missing { Cell::Missing } else { Cell::Word }
    }

    /// Columns of the table: as many as most of the sampled lines have cells, the larger number on a tie, and at least as many as
    /// there are names. The first quarter of the sample may be a preamble and does not count. `None` where that is not all: beyond
    /// [`SAMPLED`] lines samples are taken elsewhere too, and of two header rows one may be units.
    pub fn width(&self, text: &str) -> Option<usize> {
        if self.lines(text).count() > SAMPLED || self.header_rows > 1 {
            return None;
        }
        let widths: Vec<usize> = self
            .lines(text)
            .filter(|(_, line, _)| self.is_useful(line))
            .map(|(_, line, _)| self.cells(line).len())
            .collect();
        let counted = &widths[widths.len() / 4..];
        let usual = counted
            .iter()
            .map(|width| {
                (
                    counted.iter().filter(|other| *other == width).count(),
                    *width,
                )
            })
            .max()?;
        let names = widths.first().filter(|_| self.header_rows == 1);
        Some(usual.1.max(names.copied().unwrap_or(0)))
    }

    /// The data rows of a text with so many columns.
    pub fn read(&self, text: &str, width: usize) -> Vec<Row> {
        let mut rows = Vec::new();
        let mut first = None;
        let useful = self.lines(text).filter(|(_, line, _)| self.is_useful(line));
        for (line, text, ended) in useful.skip(self.header_rows) {
            let mut cells = self.cells(text);
            let filled = cells.len();
            // The last line was cut short: its last cell may have lost digits.
            let cut = !ended && filled < width;
            if cut {
                cells.pop();
            }
            let at = |column: usize| cells.get(column).map_or("", String::as_str);
            let stamp = self
                .time_column
                .map(|column| (at(column), self.cell(at(column))));
            let time_s = match stamp {
                None => rows.len() as f64 / RATE_HZ,
                Some((text, Cell::Number(number))) => self.since_first(&mut first, text, number),
                Some(_) => f64::NAN,
            };
            // A column that the table has not is no channel, even where a row is longer than the table.
            let channel = |column: &usize| {
                if *column < width {
                    self.cell(at(*column))
                } else {
                    Cell::Missing
                }
            };
            let channels: Vec<Cell> = self.channels.iter().map(channel).collect();
            let readings = channels
                .iter()
                .filter(|cell| matches!(cell, Cell::Number(_)))
                .count();
            let words = channels.iter().filter(|cell| **cell == Cell::Word).count();
            let timed = time_s.is_finite();
            // Without any reading it is a row only if it is whole: a time, no word, and not a lone cell of several.
            let empty = readings == 0 && (words > 0 || !timed || filled < width.min(2) || cut);
            // A word for a time in a row too short: a line of the preamble that stands again.
            let remark =
                !timed && filled < width && stamp.is_some_and(|(_, cell)| cell == Cell::Word);
            if empty || remark {
                continue;
            }
            let values = channels.iter().map(|cell| match cell {
                Cell::Number(number) => *number,
                Cell::Missing | Cell::Word => f64::NAN,
            });
            rows.push(Row {
                line,
                time_s,
                values: values.collect(),
            });
        }
        rows
    }

    /// Seconds since the first readable stamp of the file, also where its line turns out to be no row.
    fn since_first<'t>(
        &self,
        first: &mut Option<(f64, String)>,
        text: &'t str,
        number: f64,
    ) -> f64 {
        let (origin, origin_text) = first.get_or_insert_with(|| (number, text.to_owned()));
        if origin.abs() < LARGE {
            return number - *origin;
        }
        match (self.parts(origin_text), self.parts(text)) {
            (Some(origin), Some(now)) => (now.0 - origin.0) as f64 + (now.1 - origin.1),
            _ => number - *origin,
        }
    }

    /// Whole part and fraction of a stamp as it is written, both with its sign; `None` with an exponent, and from 19 digits on,
    /// where a fraction would mean nothing.
    fn parts(&self, text: &str) -> Option<(i64, f64)> {
        let digits: String = text
            .chars()
            .filter(|c| c.is_ascii_digit() || *c == self.decimal)
            .collect();
        let (whole, fraction) = digits.rsplit_once(self.decimal).unwrap_or((&digits, ""));
        let whole = whole.replace(self.decimal, "");
        if text.contains(['e', 'E']) || whole.len() > 18 {
            return None;
        }
        let (whole, fraction): (i64, f64) = (
            format!("0{whole}").parse().ok()?,
            format!("0.{fraction}").parse().ok()?,
        );
        let negative = text.trim_start().starts_with(['-', '\u{2212}']);
        Some(if negative {
            (-whole, -fraction)
        } else {
            (whole, fraction)
        })
    }
}
