//! Rules that a protocol may ask for. A new rule is a file here and a line in [`RULES`].
//!
//! Every rule judges in the same way: `fail` where the estimate itself is on the wrong side, `pass` where its confidence limit is on
//! the good side, `undecided` in between (too few runs to tell) and where there are too few data for a limit.

mod diameter_after_at_least;
mod fracture_pressure_below;
mod fractured_share;
mod mean_at_least;
mod no_event;
mod set_at_least;
mod share;

use super::sample::Sample;
use super::words::percent;
use crate::units::{Dimension, Unit};
use std::collections::BTreeMap;

/// Every rule known.
pub const RULES: &[&dyn Rule] = &[
    &fractured_share::FracturedShare,
    &fracture_pressure_below::FracturePressureBelow,
    &set_at_least::SetAtLeast,
    &diameter_after_at_least::DiameterAfterAtLeast,
    &no_event::NoEvent,
];

/// Key of the confidence level, which every rule needs.
pub(crate) const CONFIDENCE: Key = Key {
    name: "confidence",
    kind: Kind::Confidence,
    meaning: "confidence level of the one-sided limit",
};

/// A rule of a protocol.
pub trait Rule: Sync {
    /// Its name in a protocol.
    fn name(&self) -> &'static str;
    /// What it asks, as a sentence.
    fn asks(&self) -> &'static str;
    /// The keys it needs, beside `rule` and `arm`. All must be given: a protocol fixes its levels before the runs.
    fn keys(&self) -> &'static [Key];
    /// Where its statistics come from.
    fn source(&self) -> &'static str;
    /// Judges one arm.
    fn judge(&self, asked: &Asked, sample: &Sample<'_>) -> Judgement;
}

impl std::fmt::Debug for dyn Rule {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

/// A key that a rule needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// Its name; for [`Kind::Measured`] without the unit.
    pub name: &'static str,
    /// What its value may be.
    pub kind: Kind,
    /// What it sets.
    pub meaning: &'static str,
}

/// What the value of a key may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A share or ratio, above 0 and below 1.
    Share,
    /// A confidence level, above 0.5 and below 1.
    Confidence,
    /// A positive quantity of this dimension; the key ends in its unit (`limit_atm`).
    Measured(Dimension),
}

/// A value given for a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// The value, in bench units (kPa, mm) where it has a unit.
    pub value: f64,
    /// The unit it was written in.
    pub unit: Option<&'static Unit>,
}

impl std::fmt::Display for Setting {
    /// The value as it was written, and in bench units where that differs.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Some(unit) = self.unit else {
            return write!(f, "{}", self.value);
        };
        let written = (1e6 * unit.from_bench(self.value)).round() / 1e6;
        write!(f, "{written} {}", unit.symbol)?;
        let bench = match unit.dimension {
            Dimension::Pressure => "kPa",
            Dimension::Length => "mm",
            _ => return Ok(()),
        };
        if unit.symbol == bench {
            return Ok(());
        }
        write!(f, " ({:.2} {bench})", self.value)
    }
}

/// The values given for the keys of a rule.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Asked {
    /// By the name of the key, without unit.
    pub settings: BTreeMap<&'static str, Setting>,
}

impl Asked {
    /// The value of a key in bench units; `NaN`, on which every limit fails with a reason, for a key that was never given.
    pub fn value(&self, key: &str) -> f64 {
        self.settings.get(key).map_or(f64::NAN, |s| s.value)
    }

    /// The value as it was written.
    pub fn written(&self, key: &str) -> String {
        self.settings
            .get(key)
            .map_or_else(|| format!("(no {key})"), Setting::to_string)
    }

    /// The confidence level, and how reasons print it.
    fn confidence(&self) -> (f64, String) {
        let confidence = self.value(CONFIDENCE.name);
        (confidence, percent(confidence))
    }
}

/// What a rule says of an arm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judgement {
    /// `pass`, `fail` or `undecided`.
    pub verdict: &'static str,
    /// The numbers behind it, in one sentence.
    pub reason: String,
}

impl Judgement {
    /// The limit is on the good side.
    pub fn pass(reason: impl Into<String>) -> Self {
        Self::new("pass", reason)
    }

    /// The estimate is on the wrong side.
    pub fn fail(reason: impl Into<String>) -> Self {
        Self::new("fail", reason)
    }

    /// Too few data to tell.
    pub fn undecided(reason: impl Into<String>) -> Self {
        Self::new("undecided", reason)
    }

    fn new(verdict: &'static str, reason: impl Into<String>) -> Self {
        Self {
            verdict,
            reason: reason.into(),
        }
    }
}
