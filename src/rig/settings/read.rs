//! Settings out of a table, each wrong key and value by itself.

use super::Settings;
use crate::recording::suggest;
use crate::rig::document::{count_of, number_of};
use serde::Deserialize;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Most that a value may be, by the ending of its name, the first that fits: beyond it nothing on a bench lies, and work would grow without
/// bound. The last of them fits every name.
const MOST: &[(&str, f64)] = &[
    ("_per_s", 1e6),
    ("_s", 3600.0),
    ("_samples", 100_000.0),
    ("_share", 1.0),
    ("", 1e9),
];
/// A confidence stays below this.
const CERTAIN: f64 = 1.0;
/// Levels of intervals and limits, from an even chance on: what holds less often than not is no statement of confidence.
const LEVELS: &[&str] = &[
    "confidence",
    "balloon.rated_confidence",
    "balloon.rated_coverage_share",
];
/// An even chance: a confidence below it is none.
pub const EVEN: f64 = 0.5;
/// Settings of which the first is smaller.
const ORDERED: &[(&str, &str)] = &[
    ("vent_shortest_s", "vent_longest_s"),
    ("falls.gap_snap_s", "falls.gap_slow_snap_s"),
    ("falls.gap_slow_snap_s", "falls.gap_slip_s"),
    ("falls.settled_from_s", "falls.settled_to_s"),
    ("leak.shortest_s", "leak.long_s"),
    ("leak.relaxes_fastest_s", "leak.relaxes_slowest_s"),
    ("onset.resolved_least_ratio", "onset.resolved_most_ratio"),
];

/// What is wrong with a setting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Where it stands in the text.
    pub span: Range<usize>,
    /// What was expected and what was found.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
}

/// What a value must be, where it is not that.
fn expected(name: &str, value: f64) -> Option<String> {
    if LEVELS.contains(&name) {
        let sound = (EVEN..CERTAIN).contains(&value);
        return (!sound).then(|| format!("a number of at least {EVEN} and below {CERTAIN}"));
    }
    if name.ends_with("confidence") {
        let sound = value > 0.0 && value < CERTAIN;
        return (!sound).then(|| format!("a number above 0 and below {CERTAIN}"));
    }
    let most = MOST.iter().find(|(ending, _)| name.ends_with(ending));
    let most = most.map_or(f64::MAX, |(_, most)| *most);
    let sound = value > 0.0 && value <= most;
    (!sound).then(|| format!("a number above 0 and at most {most}"))
}

/// What to write instead of a level that is none.
fn level_help(found: f64) -> Option<String> {
    if (0.0..EVEN).contains(&found) {
        Some("below a half it is wrong more often than right; for 95 % write 0.95".to_owned())
    } else if (1.0..100.0).contains(&found) && found > 1.0 {
        Some(format!("it is a share: {found} % is {}", found / 100.0))
    } else {
        None
    }
}

/// Settings written as the inside of `[settings]`.
///
/// # Errors
/// Every fault.
pub fn read_text(text: &str) -> Result<Settings, Vec<Fault>> {
    let table = DeTable::parse(text).map_err(|error| {
        vec![Fault {
            span: error.span().unwrap_or(0..0),
            message: error.message().to_owned(),
            help: None,
        }]
    })?;
    let (settings, faults) = read(table.get_ref(), text);
    if faults.is_empty() {
        Ok(settings)
    } else {
        Err(faults)
    }
}

/// Settings of a table that stands in this text, and every fault; a setting with a fault keeps its default.
pub fn read(table: &DeTable<'_>, text: &str) -> (Settings, Vec<Fault>) {
    let mut reader = Reader {
        text,
        faults: Vec::new(),
        places: Vec::new(),
    };
    let mut sound = DeTable::new();
    for (key, value) in table {
        let group: &str = key.get_ref();
        if Settings::GROUPS.iter().all(|(known, _)| *known != group) {
            if reader.is_sound("", key.span(), group, value) {
                sound.insert(key.clone(), value.clone());
            }
            continue;
        }
        let Some(inside) = value.get_ref().as_table() else {
            reader.wrong(group, value, &format!("a table [settings.{group}]"));
            continue;
        };
        let mut kept = DeTable::new();
        for (key, value) in inside {
            if reader.is_sound(group, key.span(), key.get_ref(), value) {
                kept.insert(key.clone(), value.clone());
            }
        }
        sound.insert(
            key.clone(),
            Spanned::new(value.span(), DeValue::Table(kept)),
        );
    }
    let table = Spanned::new(0..0, sound);
    let settings =
        Settings::deserialize(toml::de::Deserializer::from(table)).unwrap_or_else(|error| {
            reader.faults.push(Fault {
                span: error.span().unwrap_or(0..0),
                message: error.message().to_owned(),
                help: None,
            });
            Settings::default()
        });
    reader.order(&settings);
    (settings, reader.faults)
}

struct Reader<'t> {
    text: &'t str,
    faults: Vec<Fault>,
    /// Names that were set, and where.
    places: Vec<(String, Range<usize>)>,
}

impl Reader<'_> {
    /// Looks at one key of a group; adds its faults.
    fn is_sound(
        &mut self,
        group: &str,
        place: Range<usize>,
        key: &str,
        value: &Spanned<DeValue<'_>>,
    ) -> bool {
        let list = Settings::default().list();
        let Some(setting) = list.iter().find(|s| s.group == group && s.key == key) else {
            self.unknown(group, place, key);
            return false;
        };
        let name = setting.name();
        let number = if setting.whole {
            count_of(value).map(|count| count as f64)
        } else {
            number_of(value)
        };
        let kind = if setting.whole {
            "a whole number"
        } else {
            "a finite number"
        };
        let fault = match number {
            None => Some(kind.to_owned()),
            Some(number) => expected(&name, number),
        };
        self.places.push((name.clone(), value.span()));
        if let Some(expected) = fault {
            self.wrong(&name, value, &expected);
            if let Some(fault) = self.faults.last_mut()
                && LEVELS.contains(&name.as_str())
            {
                fault.help = number.and_then(level_help);
            }
            return false;
        }
        true
    }

    fn wrong(&mut self, name: &str, value: &Spanned<DeValue<'_>>, expected: &str) {
        let found = self.text.get(value.span()).unwrap_or_default();
        let found: String = found.chars().take(60).collect();
        self.faults.push(Fault {
            span: value.span(),
            message: format!("[settings] `{name}` is {found}; expected {expected}"),
            help: None,
        });
    }

    fn unknown(&mut self, group: &str, place: Range<usize>, key: &str) {
        let list = Settings::default().list();
        let mut known: Vec<&str> = list
            .iter()
            .filter(|setting| setting.group == group)
            .map(|setting| setting.key)
            .collect();
        let table = if group.is_empty() {
            known.extend(Settings::GROUPS.iter().map(|(group, _)| *group));
            "settings".to_owned()
        } else {
            format!("settings.{group}")
        };
        // A key without its group is the likeliest fault of all.
        let elsewhere = list.iter().find(|setting| setting.key == key);
        let help = if let Some(setting) = elsewhere {
            format!("did you mean `{}`?", setting.name())
        } else if let Some(near) = suggest(key, known.iter().copied()) {
            format!("did you mean `{near}`?")
        } else {
            format!("known here: {}", known.join(", "))
        };
        self.faults.push(Fault {
            span: place,
            message: format!("unknown key `{key}` in [{table}]"),
            help: Some(help),
        });
    }

    /// Pairs of which the first must be the smaller.
    fn order(&mut self, settings: &Settings) {
        let list = settings.list();
        let value = |name: &str| list.iter().find(|s| s.name() == name).map(|s| s.value);
        for (less, more) in ORDERED {
            let (Some(low), Some(high)) = (value(less), value(more)) else {
                continue;
            };
            let place = self
                .places
                .iter()
                .find(|(name, _)| name == less || name == more);
            let Some((_, place)) = place.filter(|_| low >= high) else {
                continue;
            };
            self.faults.push(Fault {
                span: place.clone(),
                message: format!(
                    "[settings] `{less}` is {low} and `{more}` is {high}; the first must be the smaller"
                ),
                help: None,
            });
        }
    }
}
