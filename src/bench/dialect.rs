//! How a logger writes its rows: two dialects, as far apart as two loggers of one bench usually are.

use super::recorder::{Logger, Row};
use std::fmt::Write as _;

/// A way of writing a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dialect {
    /// Comma, decimal point, elapsed seconds, units in brackets, UTF-8, LF, kPa.
    Comma,
    /// Semicolon, decimal comma, preamble of key;value lines, a row of units, local stamps, Latin-1, CRLF, bar.
    Semicolon,
}

/// Lines of the preamble of [`Dialect::Semicolon`].
pub const PREAMBLE_LINES: usize = 5;

/// What a preamble tells.
#[derive(Debug, Clone)]
pub struct Heading<'a> {
    /// Run.
    pub run: &'a str,
    /// Operator.
    pub operator: &'a str,
    /// Day: year, month, day.
    pub day: (u16, u8, u8),
    /// Start, s after midnight.
    pub start_s: u32,
}

/// A number with fixed decimals and no minus before zero.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| b == b'0' || b == b'.') => rest.to_owned(),
        _ => text,
    }
}

/// The bytes of a recording.
pub fn write(logger: &Logger, heading: &Heading, rows: &[Row]) -> Vec<u8> {
    match logger.dialect {
        Dialect::Comma => comma(logger, rows).into_bytes(),
        Dialect::Semicolon => latin_1(&semicolon(logger, heading, rows)),
    }
}

fn comma(logger: &Logger, rows: &[Row]) -> String {
    let mut text = String::from("Time [s],Pressure [kPa]");
    for (present, name) in [
        (logger.counter, ",Volume [mL]"),
        (logger.camera.is_some(), ",Waist [mm]"),
        (logger.thermometer, ",Bath [°C]"),
        (logger.microphone.is_some(), ",Sound [V]"),
    ] {
        if present {
            text.push_str(name);
        }
    }
    text.push('\n');
    for row in rows {
        text.push_str(&fixed(row.t, 3));
        for (value, decimals, present) in columns(logger, row, 1.0, 2) {
            if present {
                text.push(',');
                text.push_str(&value.map_or_else(|| "NaN".to_owned(), |v| fixed(v, decimals)));
            }
        }
        text.push('\n');
    }
    text
}

/// Value, decimals and presence of the columns after the clock; pressure divided by `unit_kpa`.
fn columns(
    logger: &Logger,
    row: &Row,
    unit_kpa: f64,
    decimals: usize,
) -> [(Option<f64>, usize, bool); 5] {
    [
        (row.pressure.map(|p| p / unit_kpa), decimals, true),
        (Some(row.volume), 3, logger.counter),
        (row.diameter, 3, logger.camera.is_some()),
        (row.temperature, 2, logger.thermometer),
        (row.sound, 4, logger.microphone.is_some()),
    ]
}

fn semicolon(logger: &Logger, heading: &Heading, rows: &[Row]) -> String {
    let (year, month, day) = heading.day;
    let date = format!("{day:02}.{month:02}.{year:04}");
    let mut text = format!(
        "Prüfstand;{}\r\nDatum;{date}\r\nLauf;{}\r\nBediener;{}\r\nAbtastrate [Hz];{}\r\n",
        logger.name,
        heading.run,
        heading.operator,
        fixed(logger.rate_hz, 1).replace('.', ",")
    );
    let mut names = String::from("Zeit;Druck");
    let mut units = String::from(";[bar]");
    for (present, name, unit) in [
        (logger.counter, ";Volumen", ";[mL]"),
        (logger.camera.is_some(), ";Durchmesser", ";[mm]"),
        (logger.thermometer, ";Badtemperatur", ";[°C]"),
        (logger.microphone.is_some(), ";Schall", ";[V]"),
    ] {
        if present {
            names.push_str(name);
            units.push_str(unit);
        }
    }
    // Writing into a String cannot fail.
    let _ = write!(text, "{names}\r\n{units}\r\n");
    for row in rows {
        let _ = write!(text, "{date} {}", clock(heading.start_s, row.t));
        for (value, decimals, present) in columns(logger, row, 100.0, 4) {
            if present {
                text.push(';');
                text.push_str(
                    &value.map_or_else(String::new, |v| fixed(v, decimals).replace('.', ",")),
                );
            }
        }
        text.push_str("\r\n");
    }
    text
}

/// `hh:mm:ss,fff` of `t` seconds after a start given in s after midnight.
fn clock(start_s: u32, t: f64) -> String {
    let ms = u64::from(start_s) * 1000 + (t * 1000.0).round() as u64;
    let s = ms / 1000;
    format!(
        "{:02}:{:02}:{:02},{:03}",
        s / 3600 % 24,
        s / 60 % 60,
        s % 60,
        ms % 1000
    )
}

/// Latin-1 bytes: code points up to 255 are their own byte; others become a question mark.
fn latin_1(text: &str) -> Vec<u8> {
    text.chars()
        .map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?'))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_clocks_are_written_as_loggers_write_them() {
        assert_eq!(fixed(-0.001, 2), "0.00");
        assert_eq!(fixed(-0.006, 2), "-0.01");
        assert_eq!(clock(35_999, 1.0204), "10:00:00,020");
        assert_eq!(latin_1("°Cü"), vec![0xB0, b'C', 0xFC]);
    }
}
