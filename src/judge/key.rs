//! The values of the keys of a criterion or a step, read from a protocol file.

use super::limit::limit;
use super::quantity::Target;
use super::rules::{Asked, Key, Kind, Setting};
use crate::rig::document::{Section, number_of};
use crate::units::{Dimension, Unit, find};
use std::ops::Range;
use toml::Spanned;
use toml::de::DeValue;

/// Largest number of runs, failures or strokes a protocol may name.
const MOST: usize = 10_000;
/// Longest list of pressures.
const LONGEST_LIST: usize = 1000;
/// After the unit of a rate.
const PER_SECOND: &str = "_per_s";

/// What there is of a key.
enum Read<T> {
    There(T),
    /// Not there, and need not be.
    LeftOut,
    /// Told to the document.
    Wrong,
}

impl<T> Read<T> {
    fn of(value: Option<T>) -> Self {
        value.map_or(Self::Wrong, Self::There)
    }
}

/// Reads every key of a rule or step named `owner`; what is wrong goes to the document's faults. False where something needed is missing.
pub(super) fn settings(
    section: &Section<'_, '_>,
    keys: &'static [Key],
    owner: &str,
    asked: &mut Asked,
) -> bool {
    // Plain keys first: what ends in a unit takes every key that begins alike.
    let plain_first =
        |key: &&Key| !matches!(key.kind, Kind::Measured(_) | Kind::Rate | Kind::List(_));
    let (plain, with_unit): (Vec<&Key>, Vec<&Key>) = keys.iter().partition(plain_first);
    let mut complete = true;
    for key in plain.into_iter().chain(with_unit) {
        complete &= setting(section, key, owner, asked);
    }
    complete
}

fn setting(section: &Section<'_, '_>, key: &Key, owner: &str, asked: &mut Asked) -> bool {
    let read = match key.kind {
        Kind::Limit { words } => {
            let read = limit(section, key, owner, asked.target.as_ref(), words);
            let fine = read.is_some();
            asked.limit = read;
            return fine;
        }
        Kind::Measured(dimension) => measured(section, key, owner, dimension, ""),
        Kind::Rate => measured(section, key, owner, Dimension::Pressure, PER_SECOND),
        Kind::List(dimension) => return list(section, key, owner, dimension, asked),
        _ if section.get(key.name).is_none() => absent(section, key, owner, key.name),
        Kind::Share => plain(section, key, |x| x > 0.0 && x < 1.0, "above 0 and below 1"),
        Kind::Confidence => plain(
            section,
            key,
            |x| x > 0.5 && x < 1.0,
            "above 0.5 and below 1",
        ),
        Kind::Ratio => plain(section, key, |x| x > 0.0, "above 0"),
        Kind::Count => Read::of(section.count(key.name, MOST).map(|n| Setting {
            value: n as f64,
            unit: None,
        })),
        Kind::Word(words) => {
            let list: Vec<(&str, &'static str)> = words.iter().map(|w| (*w, *w)).collect();
            return match section.word(key.name, &list) {
                Some(word) => {
                    asked.texts.insert(key.name, word.to_owned());
                    true
                }
                None => false,
            };
        }
        Kind::Quantity => return quantity(section, key, asked),
    };
    match read {
        Read::There(setting) => {
            asked.settings.insert(key.name, setting);
            if key.kind == Kind::Rate {
                asked.texts.insert(key.name, written_rate(setting));
            }
            true
        }
        Read::LeftOut => true,
        Read::Wrong => false,
    }
}

/// A key that is not there: a fault if it is needed.
fn absent<T>(section: &Section<'_, '_>, key: &Key, owner: &str, name: &str) -> Read<T> {
    if !key.needed {
        return Read::LeftOut;
    }
    section.doc.error(
        &section.span,
        "protocol-key",
        format!("{} `{owner}` needs `{name}`", section.name),
        Some(format!("`{name}`: {}", key.meaning)),
    );
    Read::Wrong
}

fn quantity(section: &Section<'_, '_>, key: &Key, asked: &mut Asked) -> bool {
    let Some((path, span)) = section.text(key.name) else {
        return false;
    };
    match Target::of(&path) {
        Ok(target) => {
            asked.texts.insert(key.name, target.path());
            asked.target = Some(target);
            true
        }
        Err(help) => {
            section.doc.error(
                &span,
                "protocol-quantity",
                format!(
                    "{} `{}` is \"{path}\", which no run has",
                    section.name, key.name
                ),
                Some(help),
            );
            false
        }
    }
}

fn plain(
    section: &Section<'_, '_>,
    key: &Key,
    sound: impl Fn(f64) -> bool,
    range: &str,
) -> Read<Setting> {
    let Some((value, span)) = section.number(key.name) else {
        return Read::Wrong;
    };
    if sound(value) {
        return Read::There(Setting { value, unit: None });
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
            "{} `{}` is {value}; expected a number {range}",
            section.name, key.name
        ),
        Some(help),
    );
    Read::Wrong
}

/// The entry of a key that ends in its unit.
struct WithUnit<'a, 'd> {
    full: String,
    unit: &'static Unit,
    value: &'a Spanned<DeValue<'d>>,
}

/// Finds `name_<unit><after>`.
fn with_unit<'a, 'd>(
    section: &Section<'a, 'd>,
    key: &Key,
    owner: &str,
    dimension: Dimension,
    after: &str,
) -> Read<WithUnit<'a, 'd>> {
    let example = match dimension {
        Dimension::Pressure => "kpa",
        Dimension::Volume => "ml",
        Dimension::Time => "s",
        _ => "mm",
    };
    let usual = format!("{}_{example}{after}", key.name);
    let given = section.with_prefix(&format!("{}_", key.name));
    // The usual spelling is known also where the file has another or none.
    section.get(&usual);
    let mut found = given.into_iter();
    let Some((tail, span, value)) = found.next() else {
        let Some((span, _)) = section.get(key.name) else {
            return absent(section, key, owner, &usual);
        };
        no_unit(section, key, &span, &usual);
        return Read::Wrong;
    };
    for (again, span, _) in found {
        section.doc.error(
            &span,
            "protocol-twice",
            format!(
                "{} has both `{1}_{tail}` and `{1}_{again}`",
                section.name, key.name
            ),
            Some("keep one of them".to_owned()),
        );
    }
    let unit = tail.strip_suffix(after).and_then(find);
    let Some(unit) = unit.filter(|unit| unit.dimension == dimension) else {
        let word = dimension.word();
        let word = word.split_once(' ').map_or(word, |(_, noun)| noun);
        let rate = if after.is_empty() { "" } else { " a second" };
        section.doc.error(
            &span,
            "protocol-unit",
            format!(
                "{} `{}_{tail}`: \"{tail}\" is no unit of {word}{rate}",
                section.name, key.name
            ),
            Some(format!("name the unit in the key, as in `{usual}`")),
        );
        return Read::Wrong;
    };
    let full = format!("{}_{tail}", key.name);
    Read::There(WithUnit { full, unit, value })
}

fn no_unit(section: &Section<'_, '_>, key: &Key, span: &Range<usize>, usual: &str) {
    section.doc.error(
        span,
        "protocol-unit",
        format!("{} `{}` has no unit", section.name, key.name),
        Some(format!("name the unit in the key, as in `{usual}`")),
    );
}

/// A positive number in a unit, in its bench unit.
fn in_bench(
    section: &Section<'_, '_>,
    entry: &WithUnit<'_, '_>,
    item: &Spanned<DeValue<'_>>,
) -> Option<f64> {
    let bench = number_of(item)
        .filter(|x| *x > 0.0)
        .map(|x| entry.unit.to_bench(x))
        .filter(|x| x.is_finite());
    if bench.is_none() {
        section.wrong(&entry.full, item, "a finite number above 0");
    }
    bench
}

/// A quantity whose key ends in its unit and, for a rate, in `after` that.
fn measured(
    section: &Section<'_, '_>,
    key: &Key,
    owner: &str,
    dimension: Dimension,
    after: &str,
) -> Read<Setting> {
    match with_unit(section, key, owner, dimension, after) {
        Read::There(entry) => {
            let value = in_bench(section, &entry, entry.value);
            Read::of(value.map(|value| Setting {
                value,
                unit: Some(entry.unit),
            }))
        }
        Read::LeftOut => Read::LeftOut,
        Read::Wrong => Read::Wrong,
    }
}

fn written_rate(setting: Setting) -> String {
    let Some(unit) = setting.unit else {
        return setting.value.to_string();
    };
    let written = (1e6 * unit.from_bench(setting.value)).round() / 1e6;
    match unit.symbol {
        "kPa" => format!("{written} kPa/s"),
        symbol => format!("{written} {symbol}/s ({:.2} kPa/s)", setting.value),
    }
}

/// A list of quantities whose key ends in its unit.
fn list(
    section: &Section<'_, '_>,
    key: &Key,
    owner: &str,
    dimension: Dimension,
    asked: &mut Asked,
) -> bool {
    let entry = match with_unit(section, key, owner, dimension, "") {
        Read::There(entry) => entry,
        Read::LeftOut => return true,
        Read::Wrong => return false,
    };
    let items = entry.value.get_ref().as_array();
    let Some(items) = items.filter(|items| !items.is_empty() && items.len() <= LONGEST_LIST) else {
        section.wrong(
            &entry.full,
            entry.value,
            "a list of numbers, like [4, 8, 12]",
        );
        return false;
    };
    let mut values = Vec::new();
    for item in items {
        values.extend(in_bench(section, &entry, item));
    }
    let fine = values.len() == items.len();
    let written: Vec<String> = values
        .iter()
        .map(|v| ((1e6 * entry.unit.from_bench(*v)).round() / 1e6).to_string())
        .collect();
    asked.texts.insert(
        key.name,
        format!("{} {}", written.join(", "), entry.unit.symbol),
    );
    asked.lists.insert(key.name, values);
    fine
}
