//! The limit of a criterion: a number in a unit, a grade, or yes and no.

use super::quantity::{Target, Value, ending, factor, kept};
use super::rules::Key;
use crate::recording::{GRADES, VerdictLimit};
use crate::rig::document::{Section, number_of};
use crate::units::find_any;
use std::ops::Range;

/// The good side of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// At or above it.
    AtLeast,
    /// At or below it.
    AtMost,
    /// The word itself.
    Is,
}

impl Side {
    const NUMBERS: [(&'static str, Self); 2] =
        [("at_least", Self::AtLeast), ("at_most", Self::AtMost)];

    /// In a sentence.
    pub fn word(self) -> &'static str {
        match self {
            Self::AtLeast => "at least",
            Self::AtMost => "at most",
            Self::Is => "is",
        }
    }

    /// 1 where larger is better, else -1.
    pub(super) fn sign(self) -> f64 {
        if self == Self::AtMost { -1.0 } else { 1.0 }
    }
}

/// What stands on the other side.
#[derive(Debug, Clone, PartialEq)]
pub enum Bound {
    /// A number with the ending of its unit, empty where none was given.
    Number(f64, String),
    /// A grade by its place in the order of words.
    Grade(u8),
    /// Yes or no.
    YesNo(bool),
}

/// A limit with its good side.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Good side.
    pub side: Side,
    /// What it is.
    pub bound: Bound,
    /// As written, with its unit.
    pub written: String,
}

/// A value set against a limit.
pub(super) enum Against {
    /// By how much it lies on the good side, in its own unit, with its standard uncertainty.
    Distance(f64, Option<f64>),
    /// Good or bad, nothing to measure.
    Good(bool),
}

impl Limit {
    /// The limit in a unit.
    ///
    /// # Errors
    /// Why it is none in that unit.
    pub(super) fn in_unit(&self, unit: &str) -> Result<f64, String> {
        match &self.bound {
            Bound::Number(value, end) => factor(end, unit).map(|f| kept(f * value)).ok_or_else(|| {
                let end = if end.is_empty() { "no unit" } else { end };
                format!(
                    "the values are in {unit}, but the limit {} has {end}: name a unit of the same kind in the key",
                    self.written
                )
            }),
            Bound::Grade(_) | Bound::YesNo(_) => Err(format!(
                "the values are numbers in {unit}, but the limit is \"{}\"",
                self.written
            )),
        }
    }

    /// A value set against it.
    ///
    /// # Errors
    /// Why the two cannot be compared.
    pub(super) fn against(&self, value: &Value) -> Result<Against, String> {
        match (value, &self.bound) {
            (Value::Number { value, u, unit }, Bound::Number(limit, end))
                // A count is a pure number: `at_most = 3`.
                if unit == "counts" && end.is_empty() =>
            {
                Ok(Against::Distance(self.side.sign() * (value - limit), *u))
            }
            (Value::Number { value, u, unit }, _) => {
                let limit = self.in_unit(unit)?;
                Ok(Against::Distance(self.side.sign() * (value - limit), *u))
            }
            (Value::Grade(rank, word), bound) => self.grade(*rank, word, bound),
            (Value::YesNo(yes), Bound::YesNo(asked)) => Ok(Against::Good(yes == asked)),
            (Value::YesNo(_), _) => Err(format!(
                "the values are yes and no, but the limit is {}",
                self.written
            )),
        }
    }

    /// Nobody said which number is which word; the lowest grade is lowest on both scales.
    fn grade(&self, rank: u8, word: &str, bound: &Bound) -> Result<Against, String> {
        let in_words = word.parse::<u8>().is_err();
        let (limit, limit_in_words) = match bound {
            Bound::Grade(limit) => (f64::from(*limit), true),
            Bound::Number(limit, end) if end.is_empty() => (*limit, false),
            _ => {
                return Err(format!(
                    "the values are grades, but the limit is {}",
                    self.written
                ));
            }
        };
        if in_words != limit_in_words && rank != 0 {
            return Err(format!(
                "the grade \"{word}\" and the limit {} are of different scales (words and numbers)",
                self.written
            ));
        }
        let distance = self.side.sign() * (f64::from(rank) - limit);
        Ok(Against::Good(distance >= 0.0))
    }

    /// For a verdict, in the unit of the values.
    pub(super) fn told(&self, unit: &str) -> VerdictLimit {
        VerdictLimit {
            side: self.side.word().to_owned(),
            value: self.in_unit(unit).ok().or(match self.bound {
                Bound::Number(value, _) => Some(value),
                _ => None,
            }),
            unit: unit.to_owned(),
            written: self.written.clone(),
        }
    }
}

/// Reads `at_least_<unit>`, `at_most_<unit>`, `at_least`, `at_most` or `is`, of which one must be there; words only where `words` may be.
pub(super) fn limit(
    section: &Section<'_, '_>,
    key: &Key,
    owner: &str,
    target: Option<&Target>,
    words: bool,
) -> Option<Limit> {
    let unit = target.and_then(Target::unit);
    let mut found: Vec<(String, Range<usize>, Option<Limit>)> = Vec::new();
    for (name, side) in Side::NUMBERS {
        if let Some((span, value)) = section.get(name) {
            let limit = match (value.get_ref().as_str(), number_of(value)) {
                (Some(word), _) if words && unit.is_none() => {
                    grade_limit(section, name, side, word)
                }
                (None, Some(number)) => in_key(section, (name, ""), &span, number, side, unit),
                _ => {
                    section.wrong(name, value, "a finite number");
                    None
                }
            };
            found.push((name.to_owned(), span, limit));
        }
        for (end, span, value) in section.with_prefix(&format!("{name}_")) {
            let number = number_of(value);
            if number.is_none() {
                section.wrong(&format!("{name}_{end}"), value, "a finite number");
            }
            let limit =
                number.and_then(|number| in_key(section, (name, &end), &span, number, side, unit));
            found.push((format!("{name}_{end}"), span, limit));
        }
        // Known also where the file has none, for "did you mean".
        if let Some(unit) = unit.map(ending).filter(|end| !end.is_empty()) {
            section.get(&format!("{name}_{unit}"));
        }
    }
    if words {
        let said = section.word("is", &[("yes", true), ("no", false)]);
        if let Some((span, _)) = section.get("is") {
            let limit = said.map(|yes| Limit {
                side: Side::Is,
                bound: Bound::YesNo(yes),
                written: if yes { "yes" } else { "no" }.to_owned(),
            });
            found.push(("is".to_owned(), span, limit));
        }
    }
    let mut found = found.into_iter();
    let Some((name, _, limit)) = found.next() else {
        let end = unit.map_or("_<unit>".to_owned(), |unit| match ending(unit) {
            end if end.is_empty() => end,
            end => format!("_{end}"),
        });
        section.doc.error(
            &section.span,
            "protocol-key",
            format!(
                "{} `{owner}` needs `at_least{end}` or `at_most{end}`",
                section.name
            ),
            Some(format!("`{}`: {}", key.name, key.meaning)),
        );
        return None;
    };
    for (again, span, _) in found {
        section.doc.error(
            &span,
            "protocol-twice",
            format!("{} has both `{name}` and `{again}`", section.name),
            Some("keep one of them: two limits are two criteria".to_owned()),
        );
    }
    limit
}

fn grade_limit(section: &Section<'_, '_>, key: &str, side: Side, word: &str) -> Option<Limit> {
    let rank = section.word(key, GRADES)?;
    Some(Limit {
        side,
        bound: Bound::Grade(rank),
        written: word.trim().to_lowercase(),
    })
}

/// A number with the ending of its key, checked against the unit of the quantity where that is known.
fn in_key(
    section: &Section<'_, '_>,
    (name, end): (&str, &str),
    span: &Range<usize>,
    number: f64,
    side: Side,
    unit: Option<&str>,
) -> Option<Limit> {
    let full = if end.is_empty() {
        name.to_owned()
    } else {
        format!("{name}_{end}")
    };
    let fits = match unit {
        Some(unit) => factor(end, unit).is_some(),
        None => end.is_empty() || find_any(end).is_some(),
    };
    if fits {
        let symbol = unit
            .filter(|unit| ending(unit) == end)
            .or_else(|| find_any(end).map(|unit| unit.symbol))
            .filter(|_| !end.is_empty());
        let written = symbol.map_or_else(|| number.to_string(), |s| format!("{number} {s}"));
        return Some(Limit {
            side,
            bound: Bound::Number(number, end.to_owned()),
            written,
        });
    }
    let (says, help) = match unit {
        Some("1") => (
            format!("\"{end}\" does not fit: the quantity is a pure number"),
            format!("write `{name}`; a percentage is a ratio, 5 % is 0.05"),
        ),
        Some(unit) if end.is_empty() => (
            "it has no unit".to_owned(),
            format!("name the unit in the key, as in `{name}_{}`", ending(unit)),
        ),
        Some(unit) => (
            format!("\"{end}\" is no unit of a quantity in {unit}"),
            format!("name the unit in the key, as in `{name}_{}`", ending(unit)),
        ),
        None => (
            format!("\"{end}\" is no known unit"),
            format!("name the unit in the key, as in `{name}_mm`"),
        ),
    };
    section.doc.error(
        span,
        "protocol-unit",
        format!("{} `{full}`: {says}", section.name),
        Some(help),
    );
    None
}
