//! A rig file proposed from what a file shows, with a mark at everything the file does not say.

use super::inspect::{AIR_KPA, WIDTH, clip, plausible, short, vented_kpa};
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
        "# worth adding: [ambient] pressure_kpa, [transducer] side,\n\
         # [geometry] caliper_u_mm; u_kpa, u_rel, range_kpa, due_on of the pressure\n",
    );
    dialect(&mut rig, survey);
    match &survey.time {
        Ok(time) => {
            let unclear = survey
                .findings
                .iter()
                .any(|finding| finding.code == "clock-date-unclear");
            clock_toml(&mut rig, &time.spec, unclear);
        }
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

/// Lengths of a run, s, and steps of its clock, s, that a bench makes: a unit of time that gives others is none (an estimate of
/// ours, wide on both sides).
const RUN_S: (f64, f64) = (1.0, 10_800.0);
const STEP_S: (f64, f64) = (2e-5, 2.0);

/// A clock to be declared: a unit of time that alone makes a run of the column that rises evenly, else the lines to complete.
fn unknown_clock(rig: &mut String, survey: &Survey, help: Option<&str>) {
    let column = survey.columns.iter().find(|c| c.rises_by.is_some());
    let counted = help.is_some_and(|help| help.contains("\"index\""));
    let Some((column, step)) = column.and_then(|c| Some((c, c.rises_by?))) else {
        rig.push_str(
            "# declare: rate_hz, the rows a second, then take the marks away\n\
             # [clock]\n# kind = \"rate\"\n# rate_hz = ...\n",
        );
        return;
    };
    let name = column_toml(&reference(survey, column));
    if counted {
        let _ = writeln!(
            rig,
            "# declare: rate_hz, the samples a second, then take the marks away\n\
             # [clock]\n# kind = \"index\"\n# column = {name}\n# rate_hz = ..."
        );
        return;
    }
    if help.is_some_and(|help| help.contains("\"serial\"")) {
        let _ = writeln!(
            rig,
            "# declare: days as spreadsheets count them (if not: kind = \"relative\", its unit)?\n\
             # then take the marks away\n\
             # [clock]\n# kind = \"serial\"\n# column = {name}"
        );
        return;
    }
    let span = column.range.map_or(f64::NAN, |(low, high)| high - low);
    let makes_a_run = |unit: &&&Unit| {
        (RUN_S.0..=RUN_S.1).contains(&(span * unit.factor))
            && (STEP_S.0..=STEP_S.1).contains(&(step * unit.factor))
    };
    let known: Vec<&Unit> = ["s", "ms", "us", "min"]
        .iter()
        .filter_map(|symbol| crate::units::find(symbol))
        .collect();
    let fitting: Vec<&&Unit> = known.iter().filter(makes_a_run).collect();
    if let [unit] = fitting.as_slice() {
        let _ = writeln!(
            rig,
            "[clock]\nkind = \"relative\"\ncolumn = {name}\n\
             unit = {} # declare: is it? it makes {} s in steps of {} s",
            quoted(unit.symbol),
            short(span * unit.factor),
            short(step * unit.factor)
        );
        return;
    }
    let units = match fitting.as_slice() {
        [] => "\"s\", \"ms\", \"min\"".to_owned(),
        several => {
            let quoted: Vec<String> = several.iter().map(|unit| quoted(unit.symbol)).collect();
            quoted.join(", ")
        }
    };
    let _ = writeln!(
        rig,
        "# declare: the unit of time ({units}?), then take the marks away\n\
         # [clock]\n# kind = \"relative\"\n# column = {name}\n# unit = \"...\""
    );
}

/// The clock as the file shows it; `unclear` where day and month may be the other way round.
fn clock_toml(rig: &mut String, spec: &ClockSpec, unclear: bool) {
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
            let mark = if unclear {
                " # declare: or the month first?"
            } else {
                ""
            };
            let _ = writeln!(rig, "format = {}{mark}", quoted(format));
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
        let others = match candidates.get(1..) {
            Some([]) | None => String::new(),
            Some(others) => format!(" # or {}", others.join(", ")),
        };
        let column = clip(&format!("# column = {first}{others}"), WIDTH);
        let _ = writeln!(
            rig,
            "# declare: the column of the pressure and its unit, then take the marks away\n# [[channel]]\n# quantity = \"pressure\"\n{column}\n# unit = \"...\""
        );
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
    let turns = quantity == ChannelQuantity::Turns
        || column
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
                format!("the unit that the calibration from {raw} gives")
            };
            let _ = writeln!(rig, "{mark}unit = \"auto\" # declare: {what}");
        }
    }
    if turns {
        let _ = writeln!(rig, "{mark}ml_per_turn = ...");
    }
    if quantity == ChannelQuantity::Pressure {
        let _ = writeln!(rig, "{mark}{}", reference_toml(column));
    }
    let raw = column.unit.filter(|unit| unit.dimension == Dimension::Raw);
    if let Some(unit) = raw.filter(|unit| !suits(quantity, unit)) {
        let _ = writeln!(
            rig,
            "# [channel.calibration] # value = gain x {} + offset; or kind = \"table\"\n\
             # kind = \"gain_offset\"\n# gain = ...\n# offset = ...",
            unit.symbol
        );
    }
}

/// A vented gauge reads less than this, kPa: zero, drift and a few centimetres of water.
const VENTED_KPA: f64 = 30.0;
/// Where the unit is not known: a vented gauge reads less than this share of the highest reading.
const VENTED_SHARE: f64 = 0.03;

/// Gauge or absolute, as the vented reading at the start shows; marked where it shows neither.
fn reference_toml(column: &ColumnSurvey) -> String {
    let Some(kpa) = vented_kpa(column) else {
        let (start, high) = (column.at_start, column.range.map(|(_, high)| high));
        let vented = start
            .zip(high)
            .is_some_and(|(s, h)| s.abs() <= VENTED_SHARE * h);
        let remark = if vented {
            ""
        } else {
            " # declare: or \"absolute\"?"
        };
        return format!("reference = \"gauge\"{remark}");
    };
    if (AIR_KPA.0..=AIR_KPA.1).contains(&kpa) {
        return format!(
            "reference = \"absolute\" # vented it reads {} kPa, the air",
            short(kpa)
        );
    }
    if kpa.abs() <= VENTED_KPA {
        return "reference = \"gauge\"".to_owned();
    }
    format!(
        "reference = \"gauge\" # declare: or \"absolute\"? it starts at {} kPa, not vented",
        short(kpa)
    )
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
