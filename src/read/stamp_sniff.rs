//! Telling from the cells of a column what kind of stamps they are.

use super::stamp::{DAY, StampFormat, read_iso};

/// True for text that has the shape of a date or a time of day.
pub(crate) fn looks_like_stamp(text: &str) -> bool {
    let text = text.trim();
    if text.len() < 5 || text.len() > 40 || !text.is_ascii() && !text.contains('é') {
        return false;
    }
    let bytes = text.as_bytes();
    if !bytes.first().is_some_and(u8::is_ascii_digit) {
        return false;
    }
    // A plain number is told from a stamp by its marks: it has one at most.
    let marks = bytes.iter().filter(|byte| !byte.is_ascii_digit()).count();
    if marks < 2 && memchr::memchr2(b':', b'T', bytes).is_none() {
        return false;
    }
    if text.contains('-') && read_iso(text).is_some()
        || text.contains('T') && read_iso(text).is_some()
    {
        return true;
    }
    let colons = text.matches(':').count();
    let digits = bytes.iter().filter(|byte| byte.is_ascii_digit()).count();
    if colons > 0 {
        return digits >= 3 && digits + 12 >= bytes.len() && shape(text).is_some();
    }
    // A date alone: three numbers, one of four digits or all of two.
    let parts: Vec<&str> = text.split(['.', '-', '/']).collect();
    parts.len() == 3
        && parts
            .iter()
            .all(|part| matches!(part.len(), 1 | 2 | 4) && part.bytes().all(|b| b.is_ascii_digit()))
        && parts.iter().filter(|part| part.len() == 4).count() == 1
}

/// Which number of a date comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Order {
    DayFirst,
    MonthFirst,
    Either,
}

/// A stamp cell taken apart: the format it has, with the day and month still open.
struct Shape {
    before: String,
    order: Option<Order>,
    mark: char,
    long_year: bool,
    after: String,
}

impl Shape {
    fn format(&self, month_first: bool) -> String {
        let mark = self.mark;
        let year = if self.long_year { "yyyy" } else { "yy" };
        match self.order {
            None => format!("{}{}", self.before, self.after),
            Some(_) if month_first => format!("mm{mark}dd{mark}{year}{}", self.after),
            Some(_) => format!("dd{mark}mm{mark}{year}{}", self.after),
        }
    }
}

fn shape(text: &str) -> Option<Shape> {
    let text = text.trim();
    let (date, time) = match text.find([' ', 'T']) {
        Some(at) if text[..at].contains(':') => ("", text), // "11:59:35 PM"
        Some(at) => (&text[..at], text[at + 1..].trim()),
        None if text.contains(':') => ("", text),
        None => (text, ""),
    };
    let gap = if date.is_empty() || time.is_empty() {
        ""
    } else {
        " "
    };
    let after = format!("{gap}{}", time_shape(time)?);
    if date.is_empty() {
        return Some(Shape {
            before: String::new(),
            order: None,
            mark: ':',
            long_year: false,
            after,
        });
    }
    let mark = date.chars().find(|c| matches!(c, '.' | '-' | '/'))?;
    let parts: Vec<&str> = date.split(mark).collect();
    let [first, second, third] = parts.as_slice() else {
        return None;
    };
    let number = |part: &str| part.parse::<u32>().ok();
    if first.len() == 4 {
        number(first)?;
        number(second)?;
        number(third)?;
        return Some(Shape {
            before: format!("yyyy{mark}mm{mark}dd"),
            order: None,
            mark,
            long_year: true,
            after,
        });
    }
    let long_year = third.len() == 4;
    number(third)?;
    if second.chars().all(char::is_alphabetic) && second.chars().count() >= 3 {
        return Some(Shape {
            before: format!("dd{mark}mmm{mark}{}", if long_year { "yyyy" } else { "yy" }),
            order: None,
            mark,
            long_year,
            after,
        });
    }
    let order = match (number(first)?, number(second)?) {
        (13.., 13..) => return None,
        (13.., _) => Order::DayFirst,
        (_, 13..) => Order::MonthFirst,
        // Points between day, month and year are only ever written day first (ISO/EN custom of the countries that use them).
        _ if mark == '.' => Order::DayFirst,
        _ => Order::Either,
    };
    Some(Shape {
        before: String::new(),
        order: Some(order),
        mark,
        long_year,
        after,
    })
}

/// Format of a time of day.
fn time_shape(text: &str) -> Option<String> {
    if text.is_empty() {
        return Some(String::new());
    }
    let lower = text.to_ascii_lowercase();
    let (clock, half) = match lower
        .strip_suffix("am")
        .or_else(|| lower.strip_suffix("pm"))
    {
        Some(clock) => (clock.trim_end(), " AM/PM"),
        None => (lower.as_str(), ""),
    };
    let (clock, fraction) = match clock.find(['.', ',']) {
        Some(at) => {
            let digits = &clock[at + 1..];
            if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
                return None;
            }
            (
                &clock[..at],
                format!("{}{}", &clock[at..=at], "f".repeat(digits.len().min(9))),
            )
        }
        None => (clock, String::new()),
    };
    let parts: Vec<&str> = clock.split(':').collect();
    if !parts
        .iter()
        .all(|part| matches!(part.len(), 1..=4) && part.bytes().all(|b| b.is_ascii_digit()))
    {
        return None;
    }
    match (parts.len(), fraction.is_empty()) {
        // "hh:mm:ss:fff" of some camera clocks.
        (4, true) => Some(format!("hh:mm:ss:{}{half}", "f".repeat(parts[3].len()))),
        (3, _) => Some(format!("hh:mm:ss{fraction}{half}")),
        // With a fraction the last of two numbers is the second.
        (2, false) => Some(format!("mm:ss{fraction}")),
        (2, true) => Some(format!("hh:mm{half}")),
        _ => None,
    }
}

/// What kind of stamps a column holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum StampKind {
    /// ISO 8601.
    Iso,
    /// Date and time in this format.
    Local(String),
    /// Time of day in this format.
    TimeOfDay(String),
    /// Day and month cannot be told apart, and it matters.
    Unclear(String),
}

/// The kind of stamps that all of these cells have; `None` where they are no stamps.
pub(crate) fn stamp_kind<'t>(cells: impl Iterator<Item = &'t str> + Clone) -> Option<StampKind> {
    let filled = cells.map(str::trim).filter(|cell| !cell.is_empty());
    let first = filled.clone().find(|cell| looks_like_stamp(cell))?;
    let fits = |read: &dyn Fn(&str) -> bool| {
        let (mut good, mut all) = (0_usize, 0_usize);
        for cell in filled.clone() {
            all += 1;
            good += usize::from(read(cell));
        }
        good * 10 >= all * 9
    };
    if fits(&|cell| read_iso(cell).is_some()) {
        return Some(StampKind::Iso);
    }
    let shapes: Vec<Shape> = filled.clone().filter_map(shape).collect();
    let longest = shapes.iter().max_by_key(|shape| shape.after.len())?;
    let Some(_) = longest.order else {
        let format = longest.format(false);
        let parsed = StampFormat::parse(&format, &[]).ok()?;
        if !fits(&|cell| parsed.read(cell).is_some()) {
            return None;
        }
        return Some(if parsed.has_date() {
            StampKind::Local(format)
        } else {
            StampKind::TimeOfDay(format)
        });
    };
    let settled = shapes
        .iter()
        .filter_map(|shape| shape.order)
        .find(|order| *order != Order::Either);
    match settled {
        Some(order) => Some(StampKind::Local(longest.format(order == Order::MonthFirst))),
        None => Some(either_order(first, longest, &filled.collect::<Vec<_>>())),
    }
}

/// Day and month both up to 12: within one day the order does not matter, over midnight the next day settles it. Further apart
/// nothing is settled: a recording of three days is as likely as one with a pause.
fn either_order(first: &str, shape: &Shape, cells: &[&str]) -> StampKind {
    let days = |month_first: bool| {
        let format = StampFormat::parse(&shape.format(month_first), &[]).ok()?;
        let start = format.read(first)?.nanos();
        cells
            .iter()
            .filter_map(|cell| format.read(cell))
            .map(|stamp| (stamp.nanos() - start).abs() / DAY)
            .max()
    };
    match (days(false), days(true)) {
        (Some(a), Some(b)) if a <= 1 && b > 2 => StampKind::Local(shape.format(false)),
        (Some(a), Some(b)) if b <= 1 && a > 2 => StampKind::Local(shape.format(true)),
        _ => StampKind::Unclear(first.to_owned()),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn kind(cells: &[&'static str]) -> Option<StampKind> {
        stamp_kind(cells.iter().copied())
    }

    #[test]
    fn stamps_are_told_by_their_shape() {
        assert_eq!(kind(&["2025-03-04T23:59:35.000Z"]), Some(StampKind::Iso));
        assert_eq!(
            kind(&["04.03.2025 23:59:35,000", "05.03.2025 00:00:01,000"]),
            Some(StampKind::Local("dd.mm.yyyy hh:mm:ss,fff".into()))
        );
        assert_eq!(
            kind(&["3/14/2025 11:59:35 PM"]),
            Some(StampKind::Local("mm/dd/yyyy hh:mm:ss AM/PM".into()))
        );
        assert_eq!(
            kind(&["14/03/2025 11:59:35.5"]),
            Some(StampKind::Local("dd/mm/yyyy hh:mm:ss.f".into()))
        );
        assert_eq!(
            kind(&["23:59:59.990", "0:00:00.000"]),
            Some(StampKind::TimeOfDay("hh:mm:ss.fff".into()))
        );
        assert_eq!(kind(&["12.5", "13"]), None);
        assert_eq!(kind(&["1.000.000", "1.100.000"]), None);
    }

    #[test]
    fn day_and_month_are_settled_by_midnight_or_not_at_all() {
        assert_eq!(
            kind(&["04/03/2025 23:59:59", "05/03/2025 00:00:01"]),
            Some(StampKind::Local("dd/mm/yyyy hh:mm:ss".into()))
        );
        assert_eq!(
            kind(&["03/04/2025 23:59:59", "03/05/2025 00:00:01"]),
            Some(StampKind::Local("mm/dd/yyyy hh:mm:ss".into()))
        );
        assert!(matches!(
            kind(&["03/04/2025 12:00:00", "03/04/2025 12:00:01"]),
            Some(StampKind::Unclear(_))
        ));
    }
}
