//! The `[clock]` of a rig file.

use super::document::{Section, count_of};
use super::{ClockSpec, ColumnRef};
use crate::recording::{Finding, suggest};
use crate::units::{Dimension, Unit};

#[derive(Clone, Copy)]
enum Kind {
    Relative,
    Iso,
    Local,
    TimeOfDay,
    Serial,
    Epoch,
    Index,
    Rate,
    Auto,
}

const KINDS: &[(&str, Kind)] = &[
    ("relative", Kind::Relative),
    ("iso", Kind::Iso),
    ("local", Kind::Local),
    ("time_of_day", Kind::TimeOfDay),
    ("serial", Kind::Serial),
    ("epoch", Kind::Epoch),
    ("index", Kind::Index),
    ("rate", Kind::Rate),
    ("auto", Kind::Auto),
];

/// Reads the section; a missing one is sniffed.
pub(super) fn clock(section: Section<'_, '_>) -> ClockSpec {
    let clock = read(&section);
    section.finish();
    clock.unwrap_or(ClockSpec::Auto)
}

fn read(section: &Section<'_, '_>) -> Option<ClockSpec> {
    let kind = if section.get("kind").is_some() {
        section.word("kind", KINDS)
    } else {
        if section.exists() {
            missing(section, "kind", "kind = \"relative\" (or \"auto\")");
        }
        None
    };
    let Some(kind) = kind else {
        // Known keys are not to be called unknown only because the kind is wrong.
        for key in ["column", "unit", "format", "rate_hz"] {
            section.get(key);
        }
        return None;
    };
    match kind {
        Kind::Relative => Some(ClockSpec::Relative {
            column: time_column(section)?,
            unit: time_unit(section)?,
        }),
        Kind::Iso => Some(ClockSpec::Iso {
            column: time_column(section)?,
        }),
        Kind::Serial => Some(ClockSpec::Serial {
            column: time_column(section)?,
        }),
        Kind::Local => Some(ClockSpec::Local {
            column: time_column(section)?,
            format: format(
                section,
                &["d", "m", "y", "h", "s"],
                "dd.mm.yyyy hh:mm:ss,fff",
            )?,
        }),
        Kind::TimeOfDay => Some(ClockSpec::TimeOfDay {
            column: time_column(section)?,
            format: format(section, &["h", "m"], "hh:mm:ss.fff")?,
        }),
        Kind::Epoch => Some(ClockSpec::Epoch {
            column: time_column(section)?,
            unit: time_unit(section)?,
        }),
        Kind::Index => Some(ClockSpec::Index {
            column: time_column(section)?,
            rate_hz: rate(section)?,
        }),
        Kind::Rate => Some(ClockSpec::Rate {
            rate_hz: rate(section)?,
        }),
        Kind::Auto => {
            for key in ["column", "unit", "format", "rate_hz"] {
                if let Some((span, _)) = section.get(key) {
                    section.doc.push(
                        Finding::doubt(
                            "clock-hint-unused",
                            format!("[clock] `{key}` counts for nothing beside kind = \"auto\""),
                        )
                        .at(section.doc.place(&span))
                        .help("declare the kind, or take the key out"),
                    );
                }
            }
            Some(ClockSpec::Auto)
        }
    }
}

fn missing(section: &Section<'_, '_>, key: &str, example: &str) {
    section.doc.error(
        &section.span,
        "toml-missing-key",
        format!("{} has no `{key}`", section.name),
        Some(format!("add {example}")),
    );
}

/// The column of the clock.
fn time_column(section: &Section<'_, '_>) -> Option<ColumnRef> {
    let column = column(section);
    if column.is_none() && section.get("column").is_none() {
        missing(
            section,
            "column",
            "column = \"<name in the header>\" or a 0-based number",
        );
    }
    column
}

/// A column by name or number; `None` where missing, `"auto"` or wrong.
pub(super) fn column(section: &Section<'_, '_>) -> Option<ColumnRef> {
    let (_, value) = section.get("column")?;
    if let Some(name) = value.get_ref().as_str() {
        return (name != "auto").then(|| ColumnRef::Name(name.to_owned()));
    }
    let number = count_of(value);
    if number.is_none() {
        section.wrong(
            "column",
            value,
            "the name of a column in quotes, or its number counted from 0",
        );
    }
    number.map(ColumnRef::Index)
}

fn time_unit(section: &Section<'_, '_>) -> Option<&'static Unit> {
    let Some((text, span)) = section.text("unit") else {
        if section.get("unit").is_none() {
            missing(section, "unit", "unit = \"s\" (or \"ms\", \"min\")");
        }
        return None;
    };
    let unit = crate::units::find(&text).filter(|unit| unit.dimension == Dimension::Time);
    if unit.is_none() {
        section.doc.error(
            &span,
            "unknown-unit",
            format!("[clock] `unit` is \"{text}\"; expected a unit of time: s, ms, us, min, h"),
            suggest(&text, ["s", "ms", "us", "min", "h"])
                .map(|near| format!("did you mean \"{near}\"?")),
        );
    }
    unit
}

fn rate(section: &Section<'_, '_>) -> Option<f64> {
    let rate = section.positive("rate_hz");
    if rate.is_none() && section.get("rate_hz").is_none() {
        missing(section, "rate_hz", "rate_hz = 100.0 (samples a second)");
    }
    rate
}

fn format(section: &Section<'_, '_>, needed: &[&str], example: &str) -> Option<String> {
    let Some((text, span)) = section.text("format") else {
        if section.get("format").is_none() {
            missing(section, "format", &format!("format = \"{example}\""));
        }
        return None;
    };
    match crate::read::StampFormat::parse(&text, needed) {
        Ok(_) => Some(text),
        Err(reason) => {
            section.doc.error(
                &span,
                "clock-format",
                format!("[clock] `format` is \"{text}\": {reason}"),
                Some(format!(
                    "write it like \"{example}\": dd, mm, yyyy, hh, mm, ss, fff, AM/PM"
                )),
            );
            None
        }
    }
}
