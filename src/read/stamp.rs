//! Time stamps: ISO 8601, and formats written with `dd mm yyyy hh mm ss fff`.
//!
//! A stamp is a whole number of nanoseconds, so that differences of stamps lose nothing.

/// Nanoseconds of a second.
pub(crate) const SECOND: i64 = 1_000_000_000;
/// Nanoseconds of a day.
pub(crate) const DAY: i64 = 86_400 * SECOND;
/// Years a recording may be from.
const YEARS: std::ops::RangeInclusive<i64> = 1900..=2199;

/// English, German, French, Spanish, Dutch and Italian short names of months, each beginning so.
const MONTHS: [&[&str]; 12] = [
    &["jan", "ene", "gen"],
    &["feb", "fev", "fév"],
    &["mar", "mär", "mrz", "maa", "mrt"],
    &["apr", "avr", "abr"],
    &["may", "mai", "mei", "mag"],
    &["jun", "juin", "giu"],
    &["jul", "juil", "lug"],
    &["aug", "aou", "aoû", "ago"],
    &["sep", "set"],
    &["oct", "okt", "ott"],
    &["nov"],
    &["dec", "dez", "déc", "dic"],
];

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Year,
    ShortYear,
    Month,
    MonthName,
    Day,
    Hour,
    Minute,
    Second,
    Fraction,
    HalfDay,
    Mark(char),
}

/// A declared format of time stamps, such as `dd.mm.yyyy hh:mm:ss,fff`.
///
/// Letters count without regard to case: `yyyy` `yy` year, `mm` month before and minute behind the hour, `mmm` name of the month,
/// `dd` day, `hh` hour, `ss` second, `fff` fraction of a second (any number of digits), `AM/PM` half of the day. Everything
/// else stands for itself; a blank also matches several, or a `T`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StampFormat {
    parts: Vec<Part>,
}

/// A stamp read with a format.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Stamp {
    /// Day since 1970-01-01, if the format has a date.
    pub day: Option<i64>,
    /// Nanoseconds since midnight (or since the start where hours go on beyond 24).
    pub of_day: i64,
}

impl Stamp {
    /// Nanoseconds since 1970 (or since midnight without a date).
    pub fn nanos(self) -> i64 {
        self.day.unwrap_or(0) * DAY + self.of_day
    }
}

impl StampFormat {
    /// Reads a format; `needed` names the parts that must be in it by their letter (`d` `m` `y` `h` `s`).
    ///
    /// # Errors
    /// What is missing or not understood, as the tail of a sentence.
    pub fn parse(format: &str, needed: &[&str]) -> Result<Self, String> {
        let mut parts = Vec::new();
        let characters: Vec<char> = format.trim().chars().collect();
        let mut at = 0;
        while let Some(&character) = characters.get(at) {
            let rest: String = characters.iter().skip(at).take(5).collect();
            if rest.eq_ignore_ascii_case("am/pm") {
                parts.push(Part::HalfDay);
                at += 5;
                continue;
            }
            let letter = character.to_ascii_lowercase();
            let run = characters
                .iter()
                .skip(at)
                .take_while(|other| other.to_ascii_lowercase() == letter)
                .count();
            let hour_seen = parts.contains(&Part::Hour);
            parts.push(match (letter, run) {
                ('y', 4) => Part::Year,
                ('y', 2) => Part::ShortYear,
                ('m', 3..) => Part::MonthName,
                ('m', _) if hour_seen || parts.last() == Some(&Part::Mark(':')) => Part::Minute,
                ('m', _) if parts.contains(&Part::Month) => Part::Minute,
                ('m', _) => Part::Month,
                ('d', 1 | 2) => Part::Day,
                ('h', 1 | 2) => Part::Hour,
                ('s', 1 | 2) => Part::Second,
                ('f', _) => Part::Fraction,
                ('t', 2) => Part::HalfDay,
                _ if character.is_alphabetic() && letter != 't' => {
                    return Err(format!("`{character}` is not understood"));
                }
                _ => {
                    parts.push(Part::Mark(character));
                    at += 1;
                    continue;
                }
            });
            at += run;
        }
        // "mm:ss" alone: the month was a minute.
        if !parts.contains(&Part::Hour) && !parts.contains(&Part::Day) {
            for part in &mut parts {
                if *part == Part::Month {
                    *part = Part::Minute;
                }
            }
        }
        for letter in needed {
            let found = parts.iter().any(|part| match *letter {
                "d" => *part == Part::Day,
                "m" => matches!(part, Part::Month | Part::MonthName | Part::Minute),
                "y" => matches!(part, Part::Year | Part::ShortYear),
                "h" => *part == Part::Hour,
                "s" => *part == Part::Second,
                _ => true,
            });
            if !found {
                return Err(format!("it has no {}", name_of(letter)));
            }
        }
        Ok(Self { parts })
    }

    /// True where stamps carry a date.
    pub(crate) fn has_date(&self) -> bool {
        self.parts.contains(&Part::Day)
    }

    /// Reads a stamp; `None` where the text is not of this format.
    pub(crate) fn read(&self, text: &str) -> Option<Stamp> {
        let mut rest = text.trim();
        let (mut year, mut month, mut day) = (None, None, None);
        let (mut hour, mut minute, mut second, mut fraction) = (0, 0, 0, 0);
        let mut half = None;
        for (at, part) in self.parts.iter().enumerate() {
            match part {
                Part::Year => year = Some(digits(&mut rest, 4, 4)?),
                Part::ShortYear => {
                    let two = digits(&mut rest, 2, 2)?;
                    year = Some(if two < 70 { 2000 + two } else { 1900 + two });
                }
                Part::Month => month = Some(digits(&mut rest, 1, 2)?),
                Part::MonthName => month = Some(month_name(&mut rest)?),
                Part::Day => day = Some(digits(&mut rest, 1, 2)?),
                Part::Hour => hour = digits(&mut rest, 1, 4)?,
                Part::Minute => minute = digits(&mut rest, 1, 2)?,
                Part::Second => second = digits(&mut rest, 1, 2)?,
                Part::Fraction => fraction = nanos(&mut rest).unwrap_or(0),
                Part::HalfDay => half = Some(half_day(&mut rest)?),
                Part::Mark(mark) => {
                    let before_fraction = self.parts.get(at + 1) == Some(&Part::Fraction);
                    take_mark(&mut rest, *mark, before_fraction)?;
                }
            }
        }
        if !rest.trim().is_empty() || minute > 59 || second > 60 {
            return None;
        }
        if let Some(afternoon) = half {
            if !(1..=12).contains(&hour) {
                return None;
            }
            hour = hour % 12 + if afternoon { 12 } else { 0 };
        }
        let day = match day {
            None => None,
            Some(_) if hour > 24 => return None,
            Some(day) => Some(day_number(year?, month?, day)?),
        };
        Some(Stamp {
            day,
            of_day: ((hour * 60 + minute) * 60 + second) * SECOND + fraction,
        })
    }
}

fn name_of(letter: &str) -> &'static str {
    match letter {
        "d" => "day (dd)",
        "m" => "month or minute (mm)",
        "y" => "year (yyyy)",
        "h" => "hour (hh)",
        _ => "second (ss)",
    }
}

/// Takes digits off the front.
fn digits(rest: &mut &str, least: usize, most: usize) -> Option<i64> {
    let count = rest
        .bytes()
        .take(most)
        .take_while(u8::is_ascii_digit)
        .count();
    if count < least {
        return None;
    }
    let (head, tail) = rest.split_at(count);
    *rest = tail;
    head.parse().ok()
}

/// Takes digits behind a decimal mark off the front, as nanoseconds.
fn nanos(rest: &mut &str) -> Option<i64> {
    let count = rest.bytes().take_while(u8::is_ascii_digit).count();
    if count == 0 {
        return None;
    }
    let (head, tail) = rest.split_at(count);
    *rest = tail;
    let mut value = 0;
    for at in 0..9 {
        value = value * 10
            + head
                .as_bytes()
                .get(at)
                .map_or(0, |byte| i64::from(byte - b'0'));
    }
    Some(value)
}

fn month_name(rest: &mut &str) -> Option<i64> {
    let letters = rest
        .find(|c: char| !c.is_alphabetic())
        .unwrap_or(rest.len());
    let word = rest.get(..letters)?.to_lowercase();
    let (month, _) = (1..)
        .zip(MONTHS)
        .find(|(_, names)| names.iter().any(|name| word.starts_with(name)))?;
    *rest = rest.get(letters..)?.trim_start_matches('.');
    Some(month)
}

/// True for the afternoon.
fn half_day(rest: &mut &str) -> Option<bool> {
    let text = rest.trim_start();
    let word = text.get(..2)?.to_ascii_lowercase();
    let afternoon = match word.as_str() {
        "am" => false,
        "pm" => true,
        _ => return None,
    };
    *rest = text.get(2..)?;
    Some(afternoon)
}

/// Takes a mark off the front. The mark before a fraction may be missing, and point and comma stand for each other there.
fn take_mark(rest: &mut &str, mark: char, before_fraction: bool) -> Option<()> {
    if before_fraction && matches!(mark, '.' | ',') {
        *rest = rest.strip_prefix(['.', ',']).unwrap_or(rest);
        return Some(());
    }
    if mark == ' ' || mark == 'T' {
        let tail = rest.trim_start_matches([' ', '\u{a0}']);
        let tail = tail.strip_prefix('T').unwrap_or(tail);
        // A blank before AM/PM may be missing.
        let same = tail.len() == rest.len();
        *rest = tail;
        return (!same || tail.is_empty() || tail.starts_with(['a', 'A', 'p', 'P'])).then_some(());
    }
    *rest = rest.strip_prefix(mark)?;
    Some(())
}

/// Day since 1970-01-01 of a date of the Gregorian calendar; `None` for dates that do not exist.
pub(crate) fn day_number(year: i64, month: i64, day: i64) -> Option<i64> {
    if !YEARS.contains(&year) || !(1..=12).contains(&month) || day < 1 {
        return None;
    }
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let long = match month {
        2 => 28 + i64::from(leap),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    };
    if day > long {
        return None;
    }
    // Days of the years before, then of the months before, counted from March so that the leap day comes last.
    let year = if month <= 2 { year - 1 } else { year };
    let month = (month + 9) % 12;
    let days = 365 * year + year / 4 - year / 100 + year / 400 + (month * 306 + 5) / 10 + day - 1;
    Some(days - 719_468)
}

/// Reads an ISO 8601 stamp: nanoseconds since 1970 and whether it carries an offset (then it is UTC).
pub(crate) fn read_iso(text: &str) -> Option<(i64, bool)> {
    let mut rest = text.trim();
    let year = digits(&mut rest, 4, 4)?;
    let dashed = rest.starts_with('-');
    rest = rest.strip_prefix(['-', '/']).unwrap_or(rest);
    let month = digits(&mut rest, 2, 2)?;
    if dashed {
        rest = rest.strip_prefix('-')?;
    } else {
        rest = rest.strip_prefix('/').unwrap_or(rest);
    }
    let day = day_number(year, month, digits(&mut rest, 2, 2)?)?;
    let at_time = rest.trim_start_matches([' ', 'T', 't']);
    if at_time.is_empty() {
        return rest.is_empty().then_some((day * DAY, false));
    }
    if at_time.len() == rest.len() {
        return None;
    }
    rest = at_time;
    let hour = digits(&mut rest, 2, 2)?;
    rest = rest.strip_prefix(':').unwrap_or(rest);
    let minute = digits(&mut rest, 2, 2)?;
    let mut of_day = (hour * 60 + minute) * 60 * SECOND;
    let tail = rest.strip_prefix(':').unwrap_or(rest);
    if tail.starts_with(|c: char| c.is_ascii_digit()) {
        rest = tail;
        let second = digits(&mut rest, 2, 2)?;
        if second > 60 {
            return None;
        }
        of_day += second * SECOND;
        if let Some(tail) = rest.strip_prefix(['.', ',']) {
            rest = tail;
            of_day += nanos(&mut rest)?;
        }
    }
    if hour > 24 || minute > 59 {
        return None;
    }
    let (offset, has_offset) = read_offset(rest.trim())?;
    Some((day * DAY + of_day - offset, has_offset))
}

/// `Z`, `+hh:mm`, `-hhmm`, `+hh` or nothing, in nanoseconds.
fn read_offset(text: &str) -> Option<(i64, bool)> {
    match text {
        "" => return Some((0, false)),
        "Z" | "z" | "UTC" => return Some((0, true)),
        _ => {}
    }
    let sign = match text.as_bytes().first()? {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    let mut rest = &text[1..];
    let hours = digits(&mut rest, 2, 2)?;
    rest = rest.strip_prefix(':').unwrap_or(rest);
    let minutes = if rest.is_empty() {
        0
    } else {
        digits(&mut rest, 2, 2)?
    };
    (rest.is_empty() && hours <= 15 && minutes <= 59)
        .then_some((sign * (hours * 60 + minutes) * 60 * SECOND, true))
}

/// ISO 8601 text of nanoseconds since 1970, to the millisecond.
pub(crate) fn to_iso(nanos: i64, utc: bool) -> Option<String> {
    let seconds = nanos.div_euclid(SECOND);
    let stamp =
        jiff::Timestamp::new(seconds, i32::try_from(nanos.rem_euclid(SECOND)).ok()?).ok()?;
    Some(if utc {
        format!("{stamp:.3}")
    } else {
        format!("{stamp:.3}").trim_end_matches('Z').to_owned()
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn read(format: &str, text: &str) -> Option<i64> {
        StampFormat::parse(format, &[])
            .unwrap()
            .read(text)
            .map(Stamp::nanos)
    }

    /// 1741132775 s is 2025-03-04T23:59:35Z (POSIX `date -u -d @1741132775`).
    const START: i64 = 1_741_132_775 * SECOND;

    #[test]
    fn iso_stamps_give_the_second_posix_date_gives() {
        for text in [
            "2025-03-04T23:59:35Z",
            "2025-03-04 23:59:35",
            "2025-03-04T18:59:35-05:00",
            "2025-03-05T05:29:35.000+0530",
            "20250304T235935Z",
        ] {
            assert_eq!(read_iso(text).unwrap().0, START, "{text}");
        }
        assert_eq!(
            read_iso("2025-03-04T23:59:35.010Z").unwrap().0,
            START + 10_000_000
        );
        assert_eq!(
            read_iso("2025-03-04T23:59:35,123456789Z").unwrap().0,
            START + 123_456_789
        );
        assert!(read_iso("2025-03-04T23:59:35Z").unwrap().1);
        assert!(!read_iso("2025-03-04T23:59:35").unwrap().1);
        for text in [
            "",
            "2025",
            "2025-02-30",
            "2025-03-04T25:00:00Z",
            "12.5",
            "2025-03-04x",
        ] {
            assert_eq!(read_iso(text), None, "{text}");
        }
    }

    #[test]
    fn declared_formats_are_read() {
        for (format, text) in [
            ("dd.mm.yyyy hh:mm:ss,fff", "04.03.2025 23:59:35,000"),
            ("dd.mm.yyyy hh:mm:ss,fff", "4.3.2025 23:59:35"),
            ("MM/DD/YYYY HH:MM:SS AM/PM", "03/04/2025 11:59:35 PM"),
            ("yyyy-mm-dd hh:mm:ss.fff", "2025-03-04T23:59:35.0"),
            ("dd/mm/yy hh:mm:ss", "04/03/25 23:59:35"),
            ("dd-mmm-yyyy hh:mm:ss", "04-Mar-2025 23:59:35"),
        ] {
            assert_eq!(read(format, text), Some(START), "{format}");
        }
        assert_eq!(
            read("hh:mm:ss.fff", "23:59:59.990"),
            Some(86_399 * SECOND + 990_000_000)
        );
        assert_eq!(read("hh:mm:ss AM/PM", "12:00:00 AM"), Some(0));
        assert_eq!(read("hh:mm:ss AM/PM", "12:00:01PM"), Some(43_201 * SECOND));
        assert_eq!(read("mm:ss.f", "01:05.5"), Some(65 * SECOND + 500_000_000));
        assert_eq!(read("hh:mm:ss", "31:00:00"), Some(31 * 3600 * SECOND));
        for text in [
            "",
            "04.13.2025 00:00:00",
            "30.02.2025 00:00:00",
            "x",
            "04.03.2025 00:61:00",
        ] {
            assert_eq!(read("dd.mm.yyyy hh:mm:ss,fff", text), None, "{text}");
        }
    }

    #[test]
    fn a_format_says_what_it_lacks() {
        assert!(
            StampFormat::parse("hh:mm", &["s"])
                .unwrap_err()
                .contains("second")
        );
        assert!(
            StampFormat::parse("dd.mm. hh:mm:ss", &["y"])
                .unwrap_err()
                .contains("year")
        );
        assert!(StampFormat::parse("qq:mm", &[]).is_err());
    }

    #[test]
    fn day_numbers_agree_with_the_calendar() {
        assert_eq!(day_number(1970, 1, 1), Some(0));
        assert_eq!(day_number(2000, 2, 29), Some(11_016));
        for day in [0_i32, 59, 11_016, 20_151, 47_481] {
            let date = jiff::civil::date(1970, 1, 1)
                .checked_add(jiff::Span::new().days(day))
                .unwrap();
            assert_eq!(
                day_number(date.year().into(), date.month().into(), date.day().into()),
                Some(day.into())
            );
        }
        assert_eq!(
            to_iso(START + 10_000_000, true).unwrap(),
            "2025-03-04T23:59:35.010Z"
        );
    }
}
