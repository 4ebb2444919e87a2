//! The `[[channel]]` tables of a rig file.

use super::clock::column;
use super::document::{Section, number_of};
use super::{Calibration, ChannelQuantity, ChannelSpec, ColumnRef, Reference};
use crate::recording::Finding;
use crate::units::{Dimension, UNITS, Unit, find, nearest};
use jiff::civil::Date;
use std::ops::Range;

/// Quantities looked for in the file where a rig lists no channel.
const IMPLIED: &[ChannelQuantity] = &[
    ChannelQuantity::Pressure,
    ChannelQuantity::Volume,
    ChannelQuantity::Turns,
    ChannelQuantity::Diameter,
    ChannelQuantity::Sound,
    ChannelQuantity::Force,
    ChannelQuantity::Temperature,
];

/// Dimensions the numbers of a quantity may have; empty allows all.
pub(crate) fn dimensions(quantity: ChannelQuantity) -> &'static [Dimension] {
    match quantity {
        ChannelQuantity::Pressure => &[Dimension::Pressure],
        ChannelQuantity::Volume => &[Dimension::Volume, Dimension::Turns],
        ChannelQuantity::Turns => &[Dimension::Turns],
        ChannelQuantity::Diameter => &[Dimension::Length],
        ChannelQuantity::Force => &[Dimension::Force],
        ChannelQuantity::Temperature => &[Dimension::Temperature],
        ChannelQuantity::Sound | ChannelQuantity::Marker => &[],
    }
}

/// Reads every `[[channel]]`; without any, all known quantities are looked for in the file (`line` 0).
pub(super) fn channels(top: &Section<'_, '_>, ml_per_turn: Option<f64>) -> Vec<ChannelSpec> {
    let sections = top.sections("channel");
    if sections.is_empty() {
        return IMPLIED.iter().map(|quantity| implied(*quantity)).collect();
    }
    sections
        .into_iter()
        .filter_map(|section| {
            let channel = channel(&section, ml_per_turn);
            section.finish();
            channel
        })
        .collect()
}

/// A channel of which nothing is declared.
fn implied(quantity: ChannelQuantity) -> ChannelSpec {
    ChannelSpec {
        quantity,
        column: None,
        aliases: Vec::new(),
        unit: None,
        reference: Reference::Gauge,
        range: None,
        resolution: None,
        u: None,
        u_rel: None,
        u_drift_kpa_per_min: None,
        calibrated_on: None,
        due_on: None,
        delay_s: 0.0,
        calibration: Calibration::None,
        ml_per_turn: None,
        line: 0,
    }
}

fn channel(section: &Section<'_, '_>, line_ml_per_turn: Option<f64>) -> Option<ChannelSpec> {
    let words: Vec<(&str, ChannelQuantity)> = ChannelQuantity::ALL
        .iter()
        .map(|(quantity, word)| (*word, *quantity))
        .collect();
    let quantity = section.word("quantity", &words);
    if section.get("quantity").is_none() {
        section.doc.error(
            &section.span,
            "toml-missing-key",
            "[[channel]] has no `quantity`".to_owned(),
            Some("add quantity = \"pressure\" (or volume, turns, diameter, sound, force, temperature, marker)".to_owned()),
        );
    }
    // The rest is checked even where the quantity is wrong, so that one run shows every fault.
    let mut spec = implied(quantity.unwrap_or(ChannelQuantity::Marker));
    spec.line = section.doc.position(section.span.start).0;
    spec.column = column(section);
    spec.aliases = section.texts("aliases");
    spec.unit = unit(section, quantity);
    spec.reference = section
        .word(
            "reference",
            &[
                ("gauge", Reference::Gauge),
                ("absolute", Reference::Absolute),
            ],
        )
        .unwrap_or(Reference::Gauge);
    spec.ml_per_turn = section.positive("ml_per_turn");
    spec.u_rel = section.not_negative("u_rel");
    spec.u_drift_kpa_per_min = section.not_negative("drift_u_kpa_per_min");
    spec.delay_s = section.number("delay_s").map_or(0.0, |(delay, _)| delay);
    spec.calibrated_on = date(section, "calibrated_on");
    spec.due_on = date(section, "due_on");
    spec.calibration = calibration(section.section("calibration"), spec.unit.is_none());

    let turn = spec.ml_per_turn.or(line_ml_per_turn);
    if quantity.is_some() && is_turns(&spec) && turn.is_none() {
        section.doc.error(
            &section.span,
            "rig-turns",
            "the channel counts turns, but neither it nor [line] says how much a turn is"
                .to_owned(),
            Some("add ml_per_turn = 0.5 (mL) to [line]".to_owned()),
        );
    }
    let scale = |unit: &Unit| match unit.dimension {
        Dimension::Turns => turn.unwrap_or(1.0),
        _ => unit.factor,
    };
    spec.range = range(section, quantity, turn);
    spec.resolution = suffixed(section, "resolution_", quantity)
        .and_then(|(value, unit, span)| positive(section, value * scale(unit), &span));
    spec.u = suffixed(section, "u_", quantity)
        .and_then(|(value, unit, span)| positive(section, value * scale(unit), &span));
    quantity.map(|_| spec)
}

fn is_turns(spec: &ChannelSpec) -> bool {
    spec.quantity == ChannelQuantity::Turns
        || spec
            .unit
            .is_some_and(|unit| unit.dimension == Dimension::Turns)
}

fn unit(section: &Section<'_, '_>, quantity: Option<ChannelQuantity>) -> Option<&'static Unit> {
    let (text, span) = section.text("unit")?;
    if text == "auto" {
        return None;
    }
    checked_unit(section, &text, quantity, &span, "`unit` is")
}

/// A unit that exists and suits the quantity; otherwise an error.
fn checked_unit(
    section: &Section<'_, '_>,
    text: &str,
    quantity: Option<ChannelQuantity>,
    span: &Range<usize>,
    what: &str,
) -> Option<&'static Unit> {
    let Some(unit) = find(text) else {
        section.doc.error(
            span,
            "unknown-unit",
            format!("[[channel]] {what} \"{text}\", which is no known unit"),
            Some(unit_help(text, quantity)),
        );
        return None;
    };
    let Some(quantity) = quantity else {
        return Some(unit);
    };
    let mut allowed = dimensions(quantity).to_vec();
    if quantity == ChannelQuantity::Turns {
        allowed.push(Dimension::Volume); // u_ml and resolution_ml of a turns channel
    }
    if !allowed.is_empty() && !allowed.contains(&unit.dimension) {
        section.doc.error(
            span,
            "unit-dimension",
            format!(
                "[[channel]] {what} \"{text}\", a unit of {:?}; a {} channel needs a unit of {}",
                unit.dimension,
                quantity.word(),
                allowed
                    .iter()
                    .map(|dimension| format!("{dimension:?}").to_lowercase())
                    .collect::<Vec<_>>()
                    .join(" or ")
            )
            .replace(
                &format!("{:?}", unit.dimension),
                &format!("{:?}", unit.dimension).to_lowercase(),
            ),
            None,
        );
        return None;
    }
    Some(unit)
}

/// The nearest unit that suits the quantity, else all that do.
fn unit_help(text: &str, quantity: Option<ChannelQuantity>) -> String {
    let allowed = quantity.map_or(&[][..], dimensions);
    let suits = |unit: &Unit| allowed.is_empty() || allowed.contains(&unit.dimension);
    if let Some(near) = nearest(text).filter(|near| find(near).is_some_and(suits)) {
        return format!("did you mean \"{near}\"?");
    }
    match quantity {
        Some(quantity) if !allowed.is_empty() => {
            let known: Vec<&str> = UNITS
                .iter()
                .filter(|unit| suits(unit))
                .map(|unit| unit.symbol)
                .collect();
            format!("units of {}: {}", quantity.word(), known.join(", "))
        }
        _ => "known units: kPa, bar, atm, psi, mmHg, MPa, at; mL, cc, uL, turns; mm, um, in; N; °C; s, ms".to_owned(),
    }
}

/// A number whose key ends in a unit (`u_kpa`): value, unit, place.
fn suffixed(
    section: &Section<'_, '_>,
    prefix: &str,
    quantity: Option<ChannelQuantity>,
) -> Option<(f64, &'static Unit, Range<usize>)> {
    let mut found = None;
    for (tail, span, value) in section.with_prefix(prefix) {
        let Some(unit) = checked_unit(section, &tail, quantity, &span, "has a key ending in")
        else {
            continue;
        };
        match number_of(value) {
            Some(number) => found = Some((number, unit, value.span())),
            None => section.wrong(&format!("{prefix}{tail}"), value, "a finite number"),
        }
    }
    found
}

fn positive(section: &Section<'_, '_>, value: f64, span: &Range<usize>) -> Option<f64> {
    if value > 0.0 {
        return Some(value);
    }
    section.doc.error(
        span,
        "toml-value",
        "a resolution or an uncertainty must be above 0".to_owned(),
        Some("leave the key out where it is not known".to_owned()),
    );
    None
}

/// `range_<unit> = [low, high]`, in bench units.
fn range(
    section: &Section<'_, '_>,
    quantity: Option<ChannelQuantity>,
    turn: Option<f64>,
) -> Option<(f64, f64)> {
    let mut found = None;
    for (tail, span, value) in section.with_prefix("range_") {
        let Some(unit) = checked_unit(section, &tail, quantity, &span, "has a key ending in")
        else {
            continue;
        };
        let ends: Option<Vec<f64>> = value
            .get_ref()
            .as_array()
            .and_then(|array| array.iter().map(number_of).collect());
        let bench = |end: f64| match unit.dimension {
            Dimension::Turns => end * turn.unwrap_or(1.0),
            _ => unit.to_bench(end),
        };
        match ends.as_deref() {
            Some([low, high]) if low < high => found = Some((bench(*low), bench(*high))),
            _ => section.wrong(
                &format!("range_{tail}"),
                value,
                "two numbers, the lower first, like [-100.0, 3000.0]",
            ),
        }
    }
    found
}

/// A date as text or as a TOML date.
fn date(section: &Section<'_, '_>, key: &str) -> Option<Date> {
    let (_, value) = section.get(key)?;
    let text = match value.get_ref() {
        toml::de::DeValue::String(text) => text.to_string(),
        toml::de::DeValue::Datetime(stamp) => {
            stamp.date.map(|date| date.to_string()).unwrap_or_default()
        }
        _ => String::new(),
    };
    let date = text.trim().parse().ok();
    if date.is_none() {
        section.wrong(key, value, "a date like \"2025-01-31\"");
    }
    date
}

fn calibration(section: Section<'_, '_>, unit_is_auto: bool) -> Calibration {
    if !section.exists() {
        return Calibration::None;
    }
    let kind = section.word(
        "kind",
        &[
            ("gain_offset", 0_u8),
            ("table", 1),
            ("polynomial", 2),
            ("none", 3),
        ],
    );
    if section.get("kind").is_none() {
        section.doc.error(
            &section.span,
            "toml-missing-key",
            format!("{} has no `kind`", section.name),
            Some("add kind = \"gain_offset\", \"table\" or \"polynomial\"".to_owned()),
        );
    }
    let calibration = match kind {
        Some(0) => gain_offset(&section),
        Some(1) => table(&section),
        Some(2) => section
            .numbers("coefficients")
            .filter(|(coefficients, _)| !coefficients.is_empty())
            .map(|(coefficients, _)| Calibration::Polynomial { coefficients })
            .or_else(|| needs(&section, "coefficients = [c0, c1, ...]")),
        _ => {
            for key in ["gain", "offset", "raw", "value", "coefficients"] {
                section.get(key);
            }
            None
        }
    };
    if unit_is_auto && calibration.is_some() {
        section.doc.error(
            &section.span,
            "rig-calibration-unit",
            "a channel with a calibration needs its `unit`: the header names the unit of the raw numbers only".to_owned(),
            Some("add unit = \"kPa\" (or whatever the calibration gives) to the [[channel]]".to_owned()),
        );
    }
    section.finish();
    calibration.unwrap_or_default()
}

fn needs(section: &Section<'_, '_>, what: &str) -> Option<Calibration> {
    section.doc.error(
        &section.span,
        "toml-missing-key",
        format!("{} of this kind needs {what}", section.name),
        None,
    );
    None
}

fn gain_offset(section: &Section<'_, '_>) -> Option<Calibration> {
    let offset = section.number("offset").map_or(0.0, |(offset, _)| offset);
    let Some((gain, span)) = section.number("gain") else {
        return needs(section, "gain (and offset): value = gain x raw + offset");
    };
    if gain == 0.0 {
        section.doc.error(
            &span,
            "toml-value",
            "a gain of 0 makes every reading the same".to_owned(),
            None,
        );
        return None;
    }
    Some(Calibration::GainOffset { gain, offset })
}

fn table(section: &Section<'_, '_>) -> Option<Calibration> {
    let (raw, value) = (section.numbers("raw"), section.numbers("value"));
    let (Some((raw, span)), Some((value, value_span))) = (raw, value) else {
        return needs(section, "raw = [...] and value = [...]");
    };
    if raw.len() != value.len() || raw.len() < 2 {
        section.doc.error(
            &value_span,
            "calibration-table",
            format!(
                "the table has {} raw numbers and {} values; as many of both are needed, two at least",
                raw.len(),
                value.len()
            ),
            None,
        );
        return None;
    }
    if !raw.windows(2).all(|pair| pair[0] < pair[1]) {
        section.doc.error(
            &span,
            "calibration-table",
            "the raw numbers of a calibration table must increase".to_owned(),
            Some("sort the points by raw number and drop doubles".to_owned()),
        );
        return None;
    }
    Some(Calibration::Table { raw, value })
}

/// Two channels of a rig on one column of the file.
pub(super) fn same_column(channels: &[ChannelSpec], doc_file: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (at, channel) in channels.iter().enumerate() {
        let Some(column) = &channel.column else {
            continue;
        };
        if channels[..at]
            .iter()
            .any(|other| other.column.as_ref() == Some(column))
        {
            let name = match column {
                ColumnRef::Name(name) => format!("\"{name}\""),
                ColumnRef::Index(number) => format!("number {number}"),
            };
            findings.push(
                Finding::doubt(
                    "rig-column-twice",
                    format!("two channels of the rig read column {name}"),
                )
                .at(crate::recording::Place::line(doc_file, channel.line)),
            );
        }
    }
    findings
}
