//! A rig file proposed from what a file shows, with a mark at everything the file does not say.

use super::inspect::{AIR_KPA, WIDTH, clip, plausible, vented_kpa, wrap_at};
use crate::read::{ColumnSurvey, Survey};
use crate::rig::{ChannelQuantity, ClockSpec, ColumnRef};
use crate::units::{Dimension, Unit};
use std::fmt::Write as _;

/// A rig that reads the file, with what must be declared marked.
pub(super) fn propose(survey: &Survey) -> String {
    let mut rig = String::new();
    let name = survey.file.split('.').next().unwrap_or("bench");
    let _ = writeln!(rig, "name = {}", quoted(name));
    rig.push_str(
        "# declare: [ambient] pressure_kpa, [transducer] side (\"inflator\", \"balloon\")\n",
    );
    dialect(&mut rig, survey);
    match &survey.time {
        Ok(time) => clock_toml(&mut rig, &time.spec),
        Err(finding) => unknown_clock(&mut rig, survey, finding.help.as_deref()),
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
    // Of several sheets the one that was looked at.
    if survey
        .findings
        .iter()
        .any(|finding| finding.code == "sheet-chosen")
        && let Some(sheet) = about.encoding.strip_prefix("sheet ")
    {
        let _ = writeln!(rig, "sheet = {}", quoted(sheet.trim_matches('"')));
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

/// A clock to be declared: what would be written if the column that rises evenly is the time, else what the finding says.
fn unknown_clock(rig: &mut String, survey: &Survey, help: Option<&str>) {
    let _ = writeln!(rig, "[clock]\nkind = \"auto\"");
    let rising = survey
        .columns
        .iter()
        .find(|column| column.rises_by.is_some());
    if let Some(column) = rising {
        let _ = writeln!(
            rig,
            "# declare: kind = \"relative\" in place of \"auto\", and what follows if it is the time\n# column = {}\n# unit = \"s\" or \"ms\" or \"min\"",
            column_toml(&reference(survey, column))
        );
        return;
    }
    let help = help.unwrap_or("declare [clock]");
    let help = wrap_at(
        &format!("# declare: {}", help.trim_start_matches("declare ")),
        "# ",
    );
    let _ = writeln!(rig, "{help}");
}

fn clock_toml(rig: &mut String, spec: &ClockSpec) {
    rig.push_str("[clock]\n");
    let (kind, column) = match spec {
        ClockSpec::Relative { column, .. } => ("relative", Some(column)),
        ClockSpec::Iso { column } => ("iso", Some(column)),
        ClockSpec::Serial { column } => ("serial", Some(column)),
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
        ClockSpec::Iso { .. } | ClockSpec::Serial { .. } | ClockSpec::Auto => {}
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
        let mut likely: Vec<&ColumnSurvey> = survey
            .columns
            .iter()
            .filter(|column| {
                let varies = column.range.is_some_and(|(low, high)| low < high);
                !column.is_clock && varies && column.rises_by.is_none()
            })
            .collect();
        likely.sort_by_key(|column| unlikeliness(column));
        let candidates: Vec<String> = likely
            .into_iter()
            .take(4)
            .map(|column| column_toml(&reference(survey, column)))
            .collect();
        let first = candidates.first().map_or("0", String::as_str);
        let _ = write!(
            rig,
            "# declare: the column of the pressure and its unit, then take the marks away\n# [[channel]]\n# quantity = \"pressure\"\n# column = {first}\n# unit = \"...\"\n"
        );
        if candidates.len() > 1 {
            let _ = writeln!(
                rig,
                "{}",
                clip(
                    &format!("# other columns: {}", candidates[1..].join(", ")),
                    WIDTH
                )
            );
        }
        return;
    }
    for column in known {
        channel(rig, survey, column);
    }
}

/// How little a column without a telling name looks like the pressure: by the kind of its unit.
fn unlikeliness(column: &ColumnSurvey) -> u8 {
    match column.unit.map(|unit| unit.dimension) {
        Some(Dimension::Pressure) => 0,
        None | Some(Dimension::Raw) => 1,
        // What a load cell measures is the next of kin.
        Some(Dimension::Force) => 2,
        Some(_) => 3,
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
        rig.push_str("# declare: how much a turn of the inflator is, then take the marks away\n");
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
                format!("unit, and a [channel.calibration] from {raw}")
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
pub(super) fn reference(survey: &Survey, column: &ColumnSurvey) -> ColumnRef {
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

pub(super) fn column_toml(column: &ColumnRef) -> String {
    match column {
        ColumnRef::Name(name) => quoted(name),
        ColumnRef::Index(at) => at.to_string(),
    }
}

/// Text as a TOML string.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}
