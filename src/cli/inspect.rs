//! `hooptrace inspect`: what a file holds, on one screen, and a rig that would read it.

use super::messages::{in_words, printable};
use super::propose::{column_toml, propose, reference};
use crate::read::{ColumnSurvey, SourceLines, Survey, TimeSurvey, read_trace, survey};
use crate::recording::Finding;
use crate::rig::{ChannelQuantity, ClockSpec, ColumnRef, Rig};
use crate::units::Dimension;
use std::fmt::Write as _;
use std::path::Path;

/// Columns shown; the others are only counted.
const SHOWN_COLUMNS: usize = 10;
/// Doubts shown.
const SHOWN_DOUBTS: usize = 6;
/// Steps of a clock that differ by more than this share of one are worth a word (a tenth of a step is usual jitter).
const UNEVEN: f64 = 0.25;
/// Width of a line, characters: a screen of 80 less the mark of a remark.
pub(super) const WIDTH: usize = 78;
/// A vented gauge reads about 0; about the pressure of the air speaks for an absolute one, kPa.
pub(super) const AIR_KPA: (f64, f64) = (80.0, 110.0);
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
    let shown_as = path.display().to_string();
    let with_rig =
        rig.map(|rig| read_trace(path, &shown_as, rig).map(|recording| recording.time_s.len()));
    // A rig that does not fit would only bend what the file shows.
    let fitting = rig.filter(|_| matches!(with_rig, Some(Ok(_))));
    let mut survey = survey(path, &shown_as, fitting)?;
    if let Some(name) = path.file_name() {
        survey.file = name.to_string_lossy().into_owned();
    }
    Ok(Inspection::of(survey, with_rig))
}

impl Inspection {
    /// What a survey says in words; `with_rig` is what a given rig made of the file, in rows.
    pub fn of(survey: Survey, with_rig: Option<Result<usize, Vec<Finding>>>) -> Self {
        let doubts = doubts(&survey);
        let proposed = match &with_rig {
            Some(Ok(_)) => None,
            _ => Some(propose(&survey)),
        };
        Self {
            survey,
            doubts,
            proposed,
            with_rig,
        }
    }

    /// The inspection as text of at most 80 columns. Where a rig is proposed the text is a rig file as it stands: what was seen
    /// is a remark at its head.
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
                text.push_str(&in_words(findings, &mut SourceLines::of_files(), ""));
            }
            None => {}
        }
        if let Some(proposed) = &self.proposed {
            let title = if proposed.contains("declare:") {
                "A rig to start from; what the file does not tell is marked `declare:`"
            } else {
                "A rig that reads this file"
            };
            let mut rig = String::new();
            // A remark of TOML holds no control characters, but a cell that is quoted may.
            for line in text.lines() {
                let _ = writeln!(rig, "# {}", printable(line));
            }
            let _ = write!(rig, "\n# {title}\n{proposed}");
            return rig;
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
        "format    {}, {}, delimiter \"{}\", decimal \"{}\"{}",
        about.format,
        about.encoding,
        about.delimiter,
        about.decimal,
        match about.thousands.as_str() {
            "" => String::new(),
            mark => format!(", thousands \"{mark}\""),
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
        ClockSpec::Serial { column } => {
            format!("days as spreadsheets count them, column {}", name(column))
        }
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
        "{:>3} {:<16} {:<6} {:>9} {:>9} {:>7} {:>9} kind",
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
            match column.quantity {
                Some(quantity) => quantity.word(),
                None if column.range.is_none() && column.missing > 0 => "words",
                None if column.rises_by.is_some() => "time?",
                None => "",
            }
        };
        let line = format!(
            "{:>3} {:<16} {:<6} {:>9} {:>9} {:>7} {:>9} {what}",
            column.at,
            clip(&column.name, 16),
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
                    "the pressure starts at {} kPa, about the air: the channel looks absolute",
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
    match &survey.time {
        Ok(time) => doubts.extend(time_doubts(time)),
        Err(finding) => {
            if finding.message.starts_with("no column")
                && let Some((column, step)) = survey
                    .columns
                    .iter()
                    .find_map(|column| Some((column, column.rises_by?)))
            {
                doubts.push(format!(
                    "column {} rises evenly by {}: it may be the time; declare [clock] with its unit",
                    column_toml(&reference(survey, column)),
                    short(step)
                ));
            }
        }
    }
    doubts
}

fn time_doubts(time: &TimeSurvey) -> Vec<String> {
    let mut doubts = Vec::new();
    if time.unreadable > 0 {
        doubts.push(format!("{} rows have no readable time", time.unreadable));
    }
    if time.gaps == 0 && time.longest_s - time.shortest_s > UNEVEN * time.step_s {
        doubts.push(format!(
            "steps are {} to {} s long: the stamps are rounded, or the logger is uneven",
            short(time.shortest_s),
            short(time.longest_s)
        ));
    }
    if time.steps_back > 0 {
        doubts.push(format!("the clock steps back {} times", time.steps_back));
    }
    doubts
}

/// The reading at the start in kPa.
pub(super) fn vented_kpa(column: &ColumnSurvey) -> Option<f64> {
    let unit = column
        .unit
        .filter(|unit| unit.dimension == Dimension::Pressure)?;
    Some(unit.to_bench(column.at_start?))
}

/// Which units numbers of this size could be in.
pub(super) fn plausible(column: &ColumnSurvey) -> String {
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

/// A number in few characters.
pub(super) fn short(value: f64) -> String {
    if !value.is_finite() {
        return "-".to_owned();
    }
    let size = value.abs();
    if value == value.trunc() && size < 1e9 {
        return format!("{value:.0}");
    }
    let text = if !(1e-3..1e7).contains(&size) {
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

pub(super) fn clip(text: &str, width: usize) -> String {
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

/// Breaks a line between words, the rest indented as the report is.
fn wrap(line: &str) -> String {
    wrap_at(line, "          ")
}

/// Breaks a line between words; `lead` begins every further line. Blanks at the start of the line stay.
pub(super) fn wrap_at(line: &str, lead: &str) -> String {
    let mut text = String::new();
    let mut width = 0;
    for word in line.split_inclusive(' ') {
        let length = word.trim_end().chars().count();
        if width > lead.len() && width + length > WIDTH {
            text.truncate(text.trim_end().len());
            text.push('\n');
            text.push_str(lead);
            width = lead.chars().count();
        }
        text.push_str(word);
        width += word.chars().count();
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
