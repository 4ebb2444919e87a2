//! `hooptrace inspect`: what a file holds, on one screen, and a rig that would read it.

use crate::read::{ColumnSurvey, Survey, TimeSurvey, read_trace, survey};
use crate::recording::Finding;
use crate::rig::{ChannelQuantity, ClockSpec, ColumnRef, Rig};
use crate::units::{Dimension, Unit};
use std::fmt::Write as _;
use std::path::Path;

/// Columns shown; the others are only counted.
const SHOWN_COLUMNS: usize = 10;
/// Doubts shown.
const SHOWN_DOUBTS: usize = 6;
/// Width of the screen, characters.
const WIDTH: usize = 80;
/// A vented gauge reads about 0; about the pressure of the air speaks for an absolute one, kPa.
const AIR_KPA: (f64, f64) = (80.0, 110.0);
/// Units whose rated burst pressures of 4 to 40 atm would give numbers of this size (lowest, highest).
const PLAUSIBLE: &[(&str, f64, f64)] = &[
    ("atm", 4.0, 40.0),
    ("bar", 4.0, 40.0),
    ("psi", 60.0, 600.0),
    ("kPa", 400.0, 4000.0),
    ("mmHg", 3000.0, 30_000.0),
    ("MPa", 0.4, 4.0),
];

/// What `inspect` found.
#[derive(Debug, Clone, PartialEq)]
pub struct Inspection {
    /// The file as it looks.
    pub survey: Survey,
    /// Doubts in words, the gravest first.
    pub doubts: Vec<String>,
    /// A rig that would read the file; `None` where the given one does.
    pub proposed: Option<String>,
    /// What the given rig makes of the file.
    pub with_rig: Option<Result<usize, Vec<Finding>>>,
}

/// Looks at a file, with the rig given or on its own.
///
/// # Errors
/// The findings where the file is no table.
pub fn inspect(path: &Path, rig: Option<&Rig>) -> Result<Inspection, Vec<Finding>> {
    let shown_as = path
        .file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let survey = survey(path, &shown_as, rig)?;
    let with_rig =
        rig.map(|rig| read_trace(path, &shown_as, rig).map(|recording| recording.time_s.len()));
    let doubts = doubts(&survey);
    let proposed = match &with_rig {
        Some(Ok(_)) => None,
        _ => Some(propose(&survey)),
    };
    Ok(Inspection {
        survey,
        doubts,
        proposed,
        with_rig,
    })
}

impl Inspection {
    /// The inspection as text of at most 80 columns.
    pub fn to_text(&self) -> String {
        let mut text = String::new();
        heading(&mut text, &self.survey);
        clock(&mut text, &self.survey);
        columns(&mut text, &self.survey);
        for doubt in self.doubts.iter().take(SHOWN_DOUBTS) {
            let _ = writeln!(text, "{}", wrap(&format!("doubt     {doubt}")));
        }
        match &self.with_rig {
            Some(Ok(rows)) => {
                let _ = writeln!(text, "rig       reads the file: {rows} rows");
            }
            Some(Err(findings)) => {
                for finding in findings {
                    let _ = writeln!(text, "{finding}");
                }
            }
            None => {}
        }
        if let Some(proposed) = &self.proposed {
            let _ = write!(text, "\n# A rig that would read this file:\n{proposed}");
        }
        text
    }
}

fn heading(text: &mut String, survey: &Survey) {
    let about = &survey.summary;
    let _ = writeln!(
        text,
        "{}  {} rows, {} columns, {} bytes",
        survey.file,
        about.rows,
        about.columns.len(),
        survey.bytes
    );
    let _ = writeln!(
        text,
        "format    {}, {}, delimiter {}, decimal {}{}",
        about.format,
        about.encoding,
        about.delimiter,
        about.decimal,
        match about.thousands.as_str() {
            "" => String::new(),
            mark => format!(", thousands {mark}"),
        }
    );
    let header = match about.header_rows {
        0 => "no header".to_owned(),
        1 => format!("header in line {}", about.skip_lines + 1),
        rows => format!("{rows} header rows from line {}", about.skip_lines + 1),
    };
    let preamble = match about.preamble.as_slice() {
        [] => String::new(),
        [(key, value), ..] => format!(
            ", {} preamble lines (\"{key}: {value}\")",
            about.preamble.len()
        ),
    };
    let _ = writeln!(text, "{}", cut(&format!("header    {header}{preamble}")));
}

fn clock(text: &mut String, survey: &Survey) {
    match &survey.time {
        Ok(time) => {
            let _ = writeln!(
                text,
                "{}",
                cut(&format!("clock     {}", clock_words(&time.spec)))
            );
            let _ = writeln!(
                text,
                "          {} s, step {} s ({} Hz), {} gaps (longest {} s),\n          {} repeats, {} steps back, {} restarts",
                short(time.span_s),
                short(time.step_s),
                short(1.0 / time.step_s),
                time.gaps,
                short(time.longest_s),
                time.repeats,
                time.steps_back,
                survey.restarts
            );
        }
        Err(finding) => {
            let _ = writeln!(
                text,
                "{}",
                wrap(&format!("clock     unknown: {}", finding.message))
            );
        }
    }
}

fn clock_words(spec: &ClockSpec) -> String {
    let name = |column: &ColumnRef| match column {
        ColumnRef::Name(name) => format!("\"{name}\""),
        ColumnRef::Index(at) => format!("number {at}"),
    };
    match spec {
        ClockSpec::Relative { column, unit } => {
            format!("elapsed time in {}, column {}", unit.symbol, name(column))
        }
        ClockSpec::Iso { column } => format!("ISO stamps, column {}", name(column)),
        ClockSpec::Local { column, format } => {
            format!("local stamps {format}, column {}", name(column))
        }
        ClockSpec::TimeOfDay { column, format } => {
            format!("time of day {format}, column {}", name(column))
        }
        ClockSpec::Epoch { column, unit } => {
            format!("{} since 1970, column {}", unit.symbol, name(column))
        }
        ClockSpec::Index { column, rate_hz } => {
            format!("sample numbers at {rate_hz} Hz, column {}", name(column))
        }
        ClockSpec::Rate { rate_hz } => format!("{rate_hz} rows a second, no time column"),
        ClockSpec::Auto => "to be sniffed".to_owned(),
    }
}

fn columns(text: &mut String, survey: &Survey) {
    let _ = writeln!(
        text,
        "{:>3} {:<24} {:<6} {:>10} {:>10} {:>7} {:>9}  looks like",
        "#", "column", "unit", "low", "high", "missing", "step"
    );
    for column in survey.columns.iter().take(SHOWN_COLUMNS) {
        let (low, high) = column
            .range
            .map_or(("-".to_owned(), "-".to_owned()), |(low, high)| {
                (short(low), short(high))
            });
        let what = if column.is_clock {
            "time"
        } else {
            column.quantity.map_or("", ChannelQuantity::word)
        };
        let line = format!(
            "{:>3} {:<24} {:<6} {:>10} {:>10} {:>7} {:>9}  {what}",
            column.at,
            clip(&column.name, 24),
            clip(&column.unit_text, 6),
            low,
            high,
            column.missing,
            column.step.map_or("-".to_owned(), short),
        );
        let _ = writeln!(text, "{}", line.trim_end());
    }
    if survey.columns.len() > SHOWN_COLUMNS {
        let _ = writeln!(
            text,
            "    and {} more columns",
            survey.columns.len() - SHOWN_COLUMNS
        );
    }
}

/// What a bench engineer would ask about this file.
fn doubts(survey: &Survey) -> Vec<String> {
    let mut doubts: Vec<String> = survey
        .findings
        .iter()
        .map(|finding| finding.message.clone())
        .collect();
    let pressure = survey
        .columns
        .iter()
        .find(|column| column.quantity == Some(ChannelQuantity::Pressure));
    match pressure {
        None => doubts.insert(
            0,
            "no column looks like the pressure; declare it by name or number".to_owned(),
        ),
        Some(column) => {
            if let Some(kpa) = vented_kpa(column)
                && (AIR_KPA.0..=AIR_KPA.1).contains(&kpa)
            {
                doubts.push(format!(
                    "the pressure starts at {} kPa, about the air: is the channel absolute? declare reference",
                    short(kpa)
                ));
            }
            if column
                .unit
                .is_none_or(|unit| unit.dimension != Dimension::Pressure)
            {
                doubts.push(format!(
                    "the unit of the pressure is not stated; {}",
                    plausible(column)
                ));
            } else if let Some(unit) = column.unit
                && matches!(unit.symbol, "atm" | "bar" | "at")
            {
                doubts.push(format!(
                    "the header says {}; atm and bar are 1.3 % apart and cannot be told by size: make sure",
                    unit.symbol
                ));
            }
        }
    }
    if let Ok(time) = &survey.time {
        doubts.extend(time_doubts(time));
    }
    doubts
}

fn time_doubts(time: &TimeSurvey) -> Vec<String> {
    let mut doubts = Vec::new();
    if time.unreadable > 0 {
        doubts.push(format!("{} rows have no readable time", time.unreadable));
    }
    if time.steps_back > 0 {
        doubts.push(format!("the clock steps back {} times", time.steps_back));
    }
    doubts
}

/// The reading at the start in kPa.
fn vented_kpa(column: &ColumnSurvey) -> Option<f64> {
    let unit = column
        .unit
        .filter(|unit| unit.dimension == Dimension::Pressure)?;
    Some(unit.to_bench(column.at_start?))
}

/// Which units numbers of this size could be in.
fn plausible(column: &ColumnSurvey) -> String {
    let high = column.range.map_or(f64::NAN, |(_, high)| high);
    let fits: Vec<&str> = PLAUSIBLE
        .iter()
        .filter(|(_, low, most)| (*low..=*most).contains(&high))
        .map(|(symbol, ..)| *symbol)
        .collect();
    if fits.is_empty() {
        "its size fits no usual unit".to_owned()
    } else {
        format!(
            "by size it could be {}, but a unit is never guessed",
            fits.join(" or ")
        )
    }
}

/// A rig that reads the file, with what must be declared marked.
fn propose(survey: &Survey) -> String {
    let mut rig = String::new();
    let name = survey.file.split('.').next().unwrap_or("bench");
    let _ = writeln!(rig, "name = {}", quoted(name));
    rig.push_str("# declare: [ambient] pressure_kpa = ... and [transducer] side = \"inflator\" or \"balloon\"\n");
    dialect(&mut rig, survey);
    match &survey.time {
        Ok(time) => clock_toml(&mut rig, &time.spec),
        Err(finding) => {
            let help = finding.help.as_deref().unwrap_or("kind");
            let _ = writeln!(rig, "[clock]\nkind = \"auto\" # {help}");
        }
    }
    channels(&mut rig, survey);
    rig
}

fn dialect(rig: &mut String, survey: &Survey) {
    let about = &survey.summary;
    rig.push_str("[dialect]\nmode = \"given\"\n");
    if about.format == "delimited text" {
        let _ = writeln!(rig, "delimiter = {}", quoted(&about.delimiter));
        let _ = writeln!(rig, "decimal = {}", quoted(&about.decimal));
        if !about.thousands.is_empty() {
            let _ = writeln!(rig, "thousands = {}", quoted(&about.thousands));
        }
        let _ = writeln!(rig, "encoding = {}", quoted(&about.encoding.to_lowercase()));
    }
    let _ = writeln!(
        rig,
        "skip_lines = {}\nheader_rows = {}",
        about.skip_lines, about.header_rows
    );
    if let Some(comment) = &survey.comment {
        let _ = writeln!(rig, "comment = {}", quoted(comment));
    }
}

fn clock_toml(rig: &mut String, spec: &ClockSpec) {
    rig.push_str("[clock]\n");
    let (kind, column) = match spec {
        ClockSpec::Relative { column, .. } => ("relative", Some(column)),
        ClockSpec::Iso { column } => ("iso", Some(column)),
        ClockSpec::Local { column, .. } => ("local", Some(column)),
        ClockSpec::TimeOfDay { column, .. } => ("time_of_day", Some(column)),
        ClockSpec::Epoch { column, .. } => ("epoch", Some(column)),
        ClockSpec::Index { column, .. } => ("index", Some(column)),
        ClockSpec::Rate { .. } => ("rate", None),
        ClockSpec::Auto => ("auto", None),
    };
    let _ = writeln!(rig, "kind = \"{kind}\"");
    if let Some(column) = column {
        let _ = writeln!(rig, "column = {}", column_toml(column));
    }
    match spec {
        ClockSpec::Relative { unit, .. } | ClockSpec::Epoch { unit, .. } => {
            let _ = writeln!(rig, "unit = {}", quoted(unit.symbol));
        }
        ClockSpec::Local { format, .. } | ClockSpec::TimeOfDay { format, .. } => {
            let _ = writeln!(rig, "format = {}", quoted(format));
        }
        ClockSpec::Index { rate_hz, .. } | ClockSpec::Rate { rate_hz } => {
            let _ = writeln!(rig, "rate_hz = {rate_hz:?}");
        }
        ClockSpec::Iso { .. } | ClockSpec::Auto => {}
    }
}

/// The channels. Without a pressure none can be declared, so all stand as remarks.
fn channels(rig: &mut String, survey: &Survey) {
    let known: Vec<&ColumnSurvey> = survey
        .columns
        .iter()
        .filter(|column| column.quantity.is_some())
        .collect();
    let has_pressure = known
        .iter()
        .any(|column| column.quantity == Some(ChannelQuantity::Pressure));
    if !has_pressure {
        rig.push_str("# declare which column is the pressure, and its unit:\n");
        for column in survey
            .columns
            .iter()
            .filter(|column| !column.is_clock && column.range.is_some())
            .take(3)
        {
            let _ = writeln!(
                rig,
                "# [[channel]]\n# quantity = \"pressure\"\n# column = {}\n# unit = \"...\"",
                column_toml(&reference(survey, column))
            );
        }
        return;
    }
    for column in known {
        channel(rig, survey, column);
    }
}

fn channel(rig: &mut String, survey: &Survey, column: &ColumnSurvey) {
    let Some(quantity) = column.quantity else {
        return;
    };
    // A channel in turns does not load before a turn is known.
    let turns = column
        .unit
        .is_some_and(|unit| unit.dimension == Dimension::Turns);
    let mark = if turns { "# " } else { "" };
    if turns {
        rig.push_str("# declare how much a turn of the inflator is, and take the marks away:\n");
    }
    let _ = writeln!(
        rig,
        "{mark}[[channel]]\n{mark}quantity = \"{}\"",
        quantity.word()
    );
    let _ = writeln!(
        rig,
        "{mark}column = {}",
        column_toml(&reference(survey, column))
    );
    match column.unit.filter(|unit| suits(quantity, unit)) {
        Some(unit) => {
            let _ = writeln!(rig, "{mark}unit = {}", quoted(unit.symbol));
        }
        None if matches!(quantity, ChannelQuantity::Sound | ChannelQuantity::Marker) => {
            let _ = writeln!(rig, "{mark}unit = \"auto\"");
        }
        None => {
            let raw = column.unit.map_or("", |unit| unit.symbol);
            let what = if raw.is_empty() {
                plausible_or(quantity, column)
            } else {
                format!("the quantity's unit and a [channel.calibration] from {raw}")
            };
            let _ = writeln!(rig, "{mark}unit = \"auto\" # declare: {what}");
        }
    }
    if turns {
        let _ = writeln!(rig, "{mark}ml_per_turn = ...");
    }
    if quantity == ChannelQuantity::Pressure {
        let air = vented_kpa(column).is_some_and(|kpa| (AIR_KPA.0..=AIR_KPA.1).contains(&kpa));
        let remark = if air {
            " # declare: or \"absolute\"?"
        } else {
            ""
        };
        let _ = writeln!(rig, "{mark}reference = \"gauge\"{remark}");
    }
}

fn plausible_or(quantity: ChannelQuantity, column: &ColumnSurvey) -> String {
    match quantity {
        ChannelQuantity::Pressure => plausible(column),
        _ => "unit".to_owned(),
    }
}

fn suits(quantity: ChannelQuantity, unit: &Unit) -> bool {
    let allowed = crate::rig::dimensions(quantity);
    allowed.is_empty() || allowed.contains(&unit.dimension)
}

/// A column by its name, or by its number where the name is missing or stands twice.
fn reference(survey: &Survey, column: &ColumnSurvey) -> ColumnRef {
    let same = survey
        .columns
        .iter()
        .filter(|other| other.name == column.name)
        .count();
    if column.name.is_empty() || same > 1 {
        ColumnRef::Index(column.at)
    } else {
        ColumnRef::Name(column.name.clone())
    }
}

fn column_toml(column: &ColumnRef) -> String {
    match column {
        ColumnRef::Name(name) => quoted(name),
        ColumnRef::Index(at) => at.to_string(),
    }
}

/// Text as a TOML string.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// A number in few characters.
fn short(value: f64) -> String {
    if !value.is_finite() {
        return "-".to_owned();
    }
    let size = value.abs();
    if value == value.trunc() && size < 1e9 {
        return format!("{value:.0}");
    }
    let text = if size >= 1e7 || size < 1e-3 {
        format!("{value:.3e}")
    } else if size >= 100.0 {
        format!("{value:.2}")
    } else {
        format!("{value:.4}")
    };
    if text.contains('.') && !text.contains('e') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

fn clip(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let mut clipped: String = text.chars().take(width - 1).collect();
    clipped.push('~');
    clipped
}

fn cut(line: &str) -> String {
    clip(line, WIDTH)
}

/// Breaks a line between words at 80 columns, the rest indented.
fn wrap(line: &str) -> String {
    let mut text = String::new();
    let mut width = 0;
    let (head, rest) = line.split_at(line.len().min(10));
    text.push_str(head);
    width += head.chars().count();
    for (at, word) in rest.split_whitespace().enumerate() {
        let length = word.chars().count();
        if at > 0 && width + 1 + length > WIDTH {
            text.push_str("\n          ");
            width = 10;
        } else if at > 0 {
            text.push(' ');
            width += 1;
        }
        text.push_str(word);
        width += length;
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plausible_units_are_known() {
        for (symbol, low, high) in PLAUSIBLE {
            assert!(crate::units::find(symbol).is_some() && low < high);
        }
    }

    #[test]
    fn numbers_are_short_and_true() {
        for (value, text) in [
            (0.0, "0"),
            (1_741_132_775_000.0, "1.741e12"),
            (3.25, "3.25"),
            (0.0473, "0.0473"),
            (-0.71, "-0.71"),
            (1e-5, "1.000e-5"),
            (1234.5678, "1234.57"),
        ] {
            assert_eq!(short(value), text);
        }
    }
}
