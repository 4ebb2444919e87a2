//! The values of a criterion's keys, read from a protocol file.

use super::rules::{Key, Kind, Setting};
use crate::rig::document::{Section, number_of};
use crate::units::{Dimension, find};

/// The value of a key; what is wrong with it goes to the document's faults.
pub(super) fn setting(section: &Section<'_, '_>, key: &Key, rule: &str) -> Option<Setting> {
    match key.kind {
        Kind::Share => plain(
            section,
            key,
            rule,
            |x| x > 0.0 && x < 1.0,
            "above 0 and below 1",
        ),
        Kind::Confidence => plain(
            section,
            key,
            rule,
            |x| x > 0.5 && x < 1.0,
            "above 0.5 and below 1",
        ),
        Kind::Measured(dimension) => measured(section, key, rule, dimension),
    }
}

fn plain(
    section: &Section<'_, '_>,
    key: &Key,
    rule: &str,
    sound: impl Fn(f64) -> bool,
    range: &str,
) -> Option<Setting> {
    if section.get(key.name).is_none() {
        missing(section, key, rule, key.name);
        return None;
    }
    let (value, span) = section.number(key.name)?;
    if sound(value) {
        return Some(Setting { value, unit: None });
    }
    let help = if value > 1.0 && value < 100.0 {
        format!("it is a ratio: {value} % is {}", value / 100.0)
    } else if value == 1.0 {
        "no number of runs can show a certainty".to_owned()
    } else {
        key.meaning.to_owned()
    };
    section.doc.error(
        &span,
        "protocol-value",
        format!(
            "[[criterion]] `{}` is {value}; expected a number {range}",
            key.name
        ),
        Some(help),
    );
    None
}

/// A quantity whose key ends in its unit.
fn measured(
    section: &Section<'_, '_>,
    key: &Key,
    rule: &str,
    dimension: Dimension,
) -> Option<Setting> {
    let (dimension_word, example) = match dimension {
        Dimension::Pressure => ("pressure", "kpa"),
        _ => ("length", "mm"),
    };
    let usual = format!("{}_{example}", key.name);
    let given = section.with_prefix(&format!("{}_", key.name));
    // The usual spelling is known also where the file has another or none.
    section.get(&usual);
    let mut found = given.into_iter();
    let Some((tail, key_span, value)) = found.next() else {
        if let Some((span, _)) = section.get(key.name) {
            section.doc.error(
                &span,
                "protocol-unit",
                format!("[[criterion]] `{}` has no unit", key.name),
                Some(format!("name the unit in the key, as in `{usual}`")),
            );
        } else {
            missing(section, key, rule, &usual);
        }
        return None;
    };
    for (again, span, _) in found {
        section.doc.error(
            &span,
            "protocol-twice",
            format!(
                "[[criterion]] has both `{0}_{tail}` and `{0}_{again}`",
                key.name
            ),
            Some("keep one of them".to_owned()),
        );
    }
    let Some(unit) = find(&tail).filter(|unit| unit.dimension == dimension) else {
        section.doc.error(
            &key_span,
            "protocol-unit",
            format!(
                "[[criterion]] `{}_{tail}`: \"{tail}\" is no unit of {dimension_word}",
                key.name
            ),
            Some(format!("name the unit in the key, as in `{usual}`")),
        );
        return None;
    };
    let full = format!("{}_{tail}", key.name);
    let Some(x) = number_of(value).filter(|x| *x > 0.0 && unit.to_bench(*x).is_finite()) else {
        section.wrong(&full, value, "a finite number above 0");
        return None;
    };
    Some(Setting {
        value: unit.to_bench(x),
        unit: Some(unit),
    })
}

fn missing(section: &Section<'_, '_>, key: &Key, rule: &str, name: &str) {
    section.doc.error(
        &section.span,
        "protocol-key",
        format!("[[criterion]] `{rule}` needs `{name}`"),
        Some(format!("`{name}`: {}", key.meaning)),
    );
}
