//! What counts as a row of readings, and what it holds: the rules of reading, applied to one stretch of a file.
//!
//! Rows of plain numbers, which nearly all rows are, go through [`super::plain`]; every other row is split into cells and read with
//! care. Both give the same numbers to the last bit.

use super::gaps::Gaps;
use super::layout::Layout;
use super::number::{Cell, doubled_mark, read_cell, read_plain};
use super::plain::{Ends, PlainCells};
use super::split::{LONGEST_LINE, split};
use super::ticker::Ticker;
use super::trace::{Plan, Wanted};
use crate::recording::{Finding, Numbering, Place};
use encoding_rs::Encoding;

/// What is in one column, as far as the rig is concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Use {
    Nothing,
    Time,
    Channel(usize),
}

/// Where the cells of a column go.
enum Target<'c> {
    Nothing,
    /// Plain numbers of a clock.
    Time(&'c mut [f64]),
    /// Any other time stamps.
    Stamp(&'c mut [f64]),
    Number(&'c mut [f64]),
}

/// How the rows of one file are read.
pub(super) struct Rules<'r> {
    layout: &'r Layout,
    plan: &'r Plan,
    pub ticker: Ticker<'r>,
    encoding: &'static Encoding,
    file: &'r str,
    /// Byte that ends a line.
    pub end: u8,
    /// Names of the columns in their plain form; none where the file has none.
    names: Vec<String>,
    /// Columns up to the last one wanted, and how their cells are found, where plain rows can be told from the rest.
    plain: Option<(Vec<Use>, PlainCells)>,
}

/// What one stretch of a file held.
#[derive(Debug, Clone, Default)]
pub(super) struct Part {
    /// Rows read.
    pub rows: usize,
    /// Line of each.
    pub lines: Numbering,
    /// Missing readings, one a channel.
    pub gaps: Vec<Gaps>,
    /// Rows before which the header stood again.
    pub restarts: Vec<usize>,
    /// First row behind a header that names the columns otherwise, and the line of that header.
    pub other_header: Option<(usize, u64)>,
    /// Lines that are neither readings nor blank: how many, the first and its text.
    pub other: (usize, u64, String),
    /// Line of the first number that uses its decimal mark for thousands as well.
    pub doubled: Option<u64>,
    /// Rows with readings but no time: how many, the first and its stamp.
    pub untimed: (usize, u64, String),
    /// What stands for itself.
    pub findings: Vec<Finding>,
}

/// Columns of one stretch, to be filled row by row.
pub(super) struct Columns<'m> {
    pub time_s: &'m mut [f64],
    pub values: Vec<&'m mut [f64]>,
}

impl<'r> Rules<'r> {
    pub fn new(
        layout: &'r Layout,
        plan: &'r Plan,
        encoding: &'static Encoding,
        end: u8,
        file: &'r str,
    ) -> Self {
        let ticker = Ticker::new(&plan.clock, layout.marks);
        let plain = PlainCells::new(layout.delimiter, layout.marks.decimal)
            .filter(|_| !comment_may_be_number(layout))
            .and_then(|cells| Some((uses(plan)?, cells)));
        Self {
            layout,
            plan,
            ticker,
            encoding,
            file,
            end,
            names: plain_names(layout),
            plain,
        }
    }

    /// Takes the first stamp from the lines of `bytes`, if one of them has it.
    pub fn begin(&mut self, bytes: &[u8]) {
        let Some(at) = self.plan.clock.column.as_ref().map(|picked| picked.at) else {
            return;
        };
        for line in bytes.split(|byte| *byte == self.end) {
            if !self.ticker.waits() {
                return;
            }
            let text = self.encoding.decode_without_bom_handling(line).0;
            let text = text.trim_end_matches('\r');
            if text.len() <= LONGEST_LINE && !self.layout.is_skipped(text) {
                let mut cells = Vec::new();
                split(text, self.layout.delimiter, &mut cells);
                self.ticker.begin(cells.get(at).copied().unwrap_or(""));
            }
        }
    }

    /// Reads whole lines into the columns; `number` is that of the first line. The columns must have room for every line.
    pub fn read(&self, bytes: &[u8], number: u64, columns: &mut Columns<'_>) -> Part {
        let mut part = self.nothing();
        let (mut at, mut line, mut plain_rows) = (0, number, 0);
        while at < bytes.len() {
            let (rows, next) = self.plain_rows(bytes, at, part.rows, columns);
            part.lines.extend_by(line, rows);
            part.rows += rows;
            plain_rows += rows;
            line += rows as u64;
            at = next;
            let rest = bytes.get(at..).unwrap_or_default();
            if rest.is_empty() {
                break;
            }
            let length = memchr::memchr(self.end, rest);
            let text = &rest[..length.unwrap_or(rest.len())];
            if !self.row(text, line, length.is_some(), &mut part, columns) {
                break;
            }
            at += text.len() + 1;
            line += 1;
        }
        for gaps in &mut part.gaps {
            gaps.add_readings(plain_rows);
        }
        part
    }

    /// Reads rows of plain numbers into the columns from `row` on, as far as there are such; says how many and where the next line begins.
    fn plain_rows(
        &self,
        bytes: &[u8],
        start: usize,
        row: usize,
        columns: &mut Columns<'_>,
    ) -> (usize, usize) {
        let (mut rows, mut at) = (0, start);
        if let Some((uses, cells)) = &self.plain
            && let Some(mut targets) = self.targets(uses, row, columns)
        {
            while let Some(next) = self.plain_row(&mut targets, *cells, bytes, at, rows) {
                rows += 1;
                at = next;
            }
        }
        (rows, at)
    }

    /// Where the cells of a row go, in the order of the file.
    fn targets<'c>(
        &self,
        uses: &[Use],
        row: usize,
        columns: &'c mut Columns<'_>,
    ) -> Option<Vec<Target<'c>>> {
        let mut time = Some(&mut *columns.time_s);
        let mut values: Vec<Option<&mut [f64]>> =
            columns.values.iter_mut().map(|v| Some(&mut **v)).collect();
        let target = |used: &Use| {
            Some(match used {
                Use::Nothing => Target::Nothing,
                Use::Time if self.ticker.counts() => Target::Time(time.take()?.get_mut(row..)?),
                Use::Time => Target::Stamp(time.take()?.get_mut(row..)?),
                Use::Channel(slot) => {
                    Target::Number(values.get_mut(*slot)?.take()?.get_mut(row..)?)
                }
            })
        };
        uses.iter().map(target).collect()
    }

    /// Reads a row of plain numbers and says where the next line begins; `None` where the row is anything else.
    #[inline]
    fn plain_row(
        &self,
        targets: &mut [Target<'_>],
        cells: PlainCells,
        bytes: &[u8],
        start: usize,
        row: usize,
    ) -> Option<usize> {
        let mut ends = Ends::from(bytes, start)?;
        let mut at = start;
        let mut end = start;
        for (column, target) in targets.iter_mut().enumerate() {
            if column > 0 {
                if *bytes.get(end)? != cells.delimiter() {
                    return None;
                }
                at = end + 1;
            }
            match target {
                Target::Number(values) => {
                    let (plain, next) = cells.read(bytes, &mut ends, at)?;
                    *values.get_mut(row)? = plain.value();
                    end = next;
                }
                Target::Time(time_s) => {
                    let (plain, next) = cells.read(bytes, &mut ends, at)?;
                    *time_s.get_mut(row)? = self.ticker.seconds(plain);
                    end = next;
                }
                Target::Stamp(time_s) => {
                    end = self.cell_end(cells, bytes, at)?;
                    let text = std::str::from_utf8(bytes.get(at..end)?).ok()?;
                    let seconds = self.ticker.read(text);
                    if !seconds.is_finite() {
                        return None;
                    }
                    *time_s.get_mut(row)? = seconds;
                    ends = Ends::from(bytes, end + 1)?;
                }
                Target::Nothing => {
                    end = self.cell_end(cells, bytes, at)?;
                    // Where the first column is not read, a remark looks like a row.
                    if let (0, Some(mark)) = (column, &self.layout.comment)
                        && memchr::memmem::find(bytes.get(at..end)?, mark.as_bytes()).is_some()
                    {
                        return None;
                    }
                    ends = Ends::from(bytes, end + 1)?;
                }
            }
        }
        let stop = *bytes.get(end)?;
        if stop != self.end {
            // A carriage return ends a cell only where the line ends with it.
            let returns = stop == b'\r' && *bytes.get(end + 1)? == self.end;
            if !returns && stop != cells.delimiter() {
                return None;
            }
            end += memchr::memchr(self.end, bytes.get(end..)?)?;
        }
        (end - start <= LONGEST_LINE).then_some(end + 1)
    }

    /// The end of any cell; `None` where it has quotes, inside which a delimiter parts no cells.
    fn cell_end(&self, cells: PlainCells, bytes: &[u8], at: usize) -> Option<usize> {
        let end = at + memchr::memchr3(cells.delimiter(), self.end, b'"', bytes.get(at..)?)?;
        (*bytes.get(end)? != b'"').then_some(end)
    }

    /// Reads any line with care; false where nothing behind it is worth reading.
    fn row(
        &self,
        bytes: &[u8],
        number: u64,
        ended: bool,
        part: &mut Part,
        columns: &mut Columns<'_>,
    ) -> bool {
        if bytes.len() > LONGEST_LINE {
            part.findings.push(too_long(self.file, number, bytes.len()));
            return false;
        }
        let text = self.encoding.decode_without_bom_handling(bytes).0;
        let text = text.trim_end_matches('\r');
        if self.layout.is_skipped(text) {
            return true;
        }
        let mut cells = Vec::with_capacity(self.layout.width());
        split(text, self.layout.delimiter, &mut cells);
        let marks = self.layout.marks;
        let cut = !ended && cells.len() < self.layout.width();
        // The last cell of a line cut short may have lost digits.
        let sound = if cut {
            cells.len().saturating_sub(1)
        } else {
            cells.len()
        };
        let cell = |at: usize| {
            if at < sound {
                cells.get(at).copied().unwrap_or("")
            } else {
                ""
            }
        };
        let time_cell = self
            .plan
            .clock
            .column
            .as_ref()
            .map(|picked| cell(picked.at));
        let seconds = self.ticker.read(time_cell.unwrap_or_default());
        let (mut readings, mut words, mut doubled) = (0_usize, 0_usize, false);
        let mut read = Vec::with_capacity(self.plan.channels.len());
        for (slot, wanted) in self.plan.channels.iter().enumerate() {
            let text = cell(wanted.picked.at);
            let value = read_plain(text, marks.decimal)
                .map_or_else(|| read_cell(text, marks), Cell::Number);
            let number = match value {
                Cell::Number(number) => {
                    readings += 1;
                    doubled |= doubled_mark(text, marks);
                    number
                }
                Cell::Missing => f64::NAN,
                Cell::Text => {
                    words += 1;
                    f64::NAN
                }
            };
            if let Some(place) = columns
                .values
                .get_mut(slot)
                .and_then(|c| c.get_mut(part.rows))
            {
                *place = number;
            }
            read.push((value, text));
        }
        let timed = time_cell.is_none() || seconds.is_finite();
        // A word for a time in a row too short: a line of the preamble that stands again.
        let remark = !timed
            && cells.len() < self.layout.width()
            && time_cell.is_some_and(|text| read_cell(text, marks) == Cell::Text);
        let few = cells.len() < self.layout.width().min(2);
        let no_row = remark || readings == 0 && (words > 0 || !timed || few);
        if no_row || (cut && readings == 0) {
            self.no_row(text.trim(), number, cut, part);
            return true;
        }
        if !timed {
            if part.untimed.0 == 0 {
                part.untimed.1 = number;
                part.untimed.2 = time_cell.unwrap_or_default().chars().take(40).collect();
            }
            part.untimed.0 += 1;
        }
        if doubled || timed && time_cell.is_some_and(|text| doubled_mark(text, marks)) {
            part.doubled.get_or_insert(number);
        }
        if cut {
            let kept = "the last line ends early; what stands before its last cell was kept";
            part.findings.push(self.last_line_cut(kept, number));
        }
        for (gaps, (value, text)) in part.gaps.iter_mut().zip(read) {
            gaps.add(value, text, number);
        }
        if let Some(place) = columns.time_s.get_mut(part.rows) {
            *place = seconds;
        }
        part.lines.push(number);
        part.rows += 1;
        true
    }

    /// The line was no row of readings: a header of a restarted logger, a remark, or a stump.
    fn no_row(&self, text: &str, number: u64, cut: bool, part: &mut Part) {
        let mut header = self.layout.header_lines.iter();
        if header.next().is_some_and(|first| first == text) {
            if part.restarts.last() != Some(&part.rows) {
                part.restarts.push(part.rows);
            }
            return;
        }
        if header.any(|line| line == text) {
            return;
        }
        if self.is_other_header(text) {
            part.other_header.get_or_insert((part.rows, number));
            return;
        }
        if cut {
            let left_out = "the last line is cut short and was left out";
            part.findings.push(self.last_line_cut(left_out, number));
            return;
        }
        if part.other.0 == 0 {
            part.other = (0, number, text.chars().take(40).collect());
        }
        part.other.0 += 1;
    }

    /// True for a line that names at least two of the columns, but not in their order: rows behind it would be read wrongly.
    fn is_other_header(&self, text: &str) -> bool {
        if self.names.is_empty() {
            return false;
        }
        let mut cells = Vec::new();
        split(text, self.layout.delimiter, &mut cells);
        let marks = self.layout.marks;
        if cells
            .iter()
            .any(|cell| matches!(read_cell(cell, marks), Cell::Number(_)))
        {
            return false;
        }
        let theirs: Vec<String> = cells.into_iter().map(plain_name).collect();
        let is_word = |name: &String| read_cell(name, marks) == Cell::Text;
        // A name that stands twice is no second one.
        let shared = self
            .names
            .iter()
            .enumerate()
            .filter(|(at, name)| !self.names[..*at].contains(name))
            .filter(|(_, name)| is_word(name) && theirs.contains(name))
            .count();
        shared >= 2
            && theirs.len() <= self.names.len() + 1
            && theirs.iter().zip(&self.names).any(|(a, b)| a != b)
    }

    fn last_line_cut(&self, message: &str, number: u64) -> Finding {
        Finding::note("last-line-cut", message).at(Place::line(self.file, number))
    }

    /// A stretch without a row.
    pub fn nothing(&self) -> Part {
        let gaps = |wanted: &Wanted| Gaps::new(&wanted.picked.name, wanted.quantity.word());
        Part {
            gaps: self.plan.channels.iter().map(gaps).collect(),
            ..Part::default()
        }
    }
}

impl Part {
    /// Appends what the next stretch of the file held.
    pub fn append(&mut self, next: Self) {
        for row in next.restarts {
            // Two headers with nothing between them are one beginning.
            if self.restarts.last() != Some(&(row + self.rows)) {
                self.restarts.push(row + self.rows);
            }
        }
        let later = next.other_header.map(|(row, line)| (row + self.rows, line));
        self.other_header = self.other_header.or(later);
        self.lines.append(&next.lines);
        self.rows += next.rows;
        for (gaps, more) in self.gaps.iter_mut().zip(next.gaps) {
            gaps.append(more);
        }
        for (mine, more) in [
            (&mut self.other, next.other),
            (&mut self.untimed, next.untimed),
        ] {
            if mine.0 == 0 {
                *mine = more;
            } else {
                mine.0 += more.0;
            }
        }
        self.doubled = self.doubled.or(next.doubled);
        self.findings.extend(next.findings);
    }
}

/// The error for a line that is too long for a table.
pub(super) fn too_long(file: &str, number: u64, bytes: usize) -> Finding {
    Finding::error(
        "line-too-long",
        format!("line {number} has {bytes} bytes; lines of a table have at most {LONGEST_LINE}"),
    )
    .at(Place::line(file, number))
    .help("check that the file is a text table with line ends")
}

/// The names of the columns, as far as a later header may tell of others.
fn plain_names(layout: &Layout) -> Vec<String> {
    let names: Vec<String> = layout.names.iter().map(|name| plain_name(name)).collect();
    if names.iter().all(String::is_empty) {
        return Vec::new();
    }
    names
}

fn plain_name(name: &str) -> String {
    name.trim().trim_matches('"').to_lowercase()
}

/// A comment mark that may begin a number or a blank hides rows that look plain.
fn comment_may_be_number(layout: &Layout) -> bool {
    layout
        .comment
        .as_deref()
        .is_some_and(|mark| mark.starts_with(|c: char| c.is_ascii_digit() || "+-., ".contains(c)))
}

/// What the columns up to the last one wanted are for; `None` where one serves twice.
fn uses(plan: &Plan) -> Option<Vec<Use>> {
    let mut uses: Vec<Use> = Vec::new();
    let time = plan
        .clock
        .column
        .as_ref()
        .map(|picked| (picked.at, Use::Time));
    let channels = plan
        .channels
        .iter()
        .enumerate()
        .map(|(slot, wanted)| (wanted.picked.at, Use::Channel(slot)));
    for (at, used) in time.into_iter().chain(channels) {
        if uses.len() <= at {
            uses.resize(at + 1, Use::Nothing);
        }
        let place = uses.get_mut(at)?;
        if *place != Use::Nothing {
            return None;
        }
        *place = used;
    }
    (!uses.is_empty()).then_some(uses)
}
