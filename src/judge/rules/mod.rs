//! Rules that a protocol may ask for. A new rule is a file here and a line in [`RULES`].
//!
//! Every rule judges in the same way: `pass` where the one-sided confidence limit of the estimate is on the good side, `fail` where the limit
//! on the other side of the estimate, with the same confidence, is still on the wrong side ([`wrong_side`]), `undecided` in between (too few
//! runs to tell) and where there are too few data for a limit. A plan with a fixed number of allowed failures fails with the next one. Under
//! guarded acceptance the limit moves inwards before a pass is given ([`Decision`]).

mod diameter_after_at_least;
mod each_within;
mod fracture_pressure_below;
mod fractured_share;
mod mean;
mod mean_limit;
mod no_event;
mod set_at_least;
mod share;
mod tolerance;

use super::decision::Decision;
use super::limit::Limit;
use super::quantity::Target;
use super::sample::Sample;
use super::words::percent;
use crate::recording::{Interval, RunResult, VerdictLimit};
use crate::units::{Dimension, Unit};
use std::collections::BTreeMap;

/// Every rule known.
pub const RULES: &[&dyn Rule] = &[
    &fractured_share::FracturedShare,
    &fracture_pressure_below::FracturePressureBelow,
    &set_at_least::SetAtLeast,
    &diameter_after_at_least::DiameterAfterAtLeast,
    &no_event::NoEvent,
    &tolerance::Tolerance,
    &each_within::EachWithin,
    &mean::Mean,
];

/// Key of the confidence level, which every rule needs.
pub(crate) const CONFIDENCE: Key = Key {
    name: "confidence",
    kind: Kind::Confidence,
    meaning: "confidence level of the one-sided limit",
    needed: true,
};

/// Key of the quantity that a general rule is about.
const QUANTITY: Key = Key {
    name: "quantity",
    kind: Kind::Quantity,
    meaning: "path of the quantity in a run of results.json, or observations.NAME",
    needed: true,
};

/// Key of its limit where only numbers make sense.
const LIMIT: Key = Key {
    name: "limit",
    kind: Kind::Limit { words: false },
    meaning: "the limit of the quantity, its unit in the key",
    needed: true,
};

/// A rule of a protocol.
pub trait Rule: Sync {
    /// Its name in a protocol.
    fn name(&self) -> &'static str;
    /// What it asks, as a sentence.
    fn asks(&self) -> &'static str;
    /// Its keys, beside those of every criterion. Levels must be given: a protocol fixes them before the runs.
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

/// A key of a rule or a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// Its name; where the key ends in a unit, without it.
    pub name: &'static str,
    /// What its value may be.
    pub kind: Kind,
    /// What it sets.
    pub meaning: &'static str,
    /// False for a key that may be left out.
    pub needed: bool,
}

/// What the value of a key may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A share or ratio, above 0 and below 1.
    Share,
    /// A confidence level, above 0.5 and below 1.
    Confidence,
    /// A ratio above 0.
    Ratio,
    /// A whole number from 0 on.
    Count,
    /// One of these words.
    Word(&'static [&'static str]),
    /// A positive quantity of this dimension; the key ends in its unit (`limit_atm`).
    Measured(Dimension),
    /// A positive rate of pressure; the key ends in its unit (`at_most_atm_per_s`).
    Rate,
    /// A list of positive quantities of this dimension; the key ends in its unit.
    List(Dimension),
    /// Path of a quantity of a run.
    Quantity,
    /// A limit of that quantity: `at_least_<unit>` or `at_most_<unit>`, where `words` is true also grades and `is`.
    Limit {
        /// True where the limit may be a word.
        words: bool,
    },
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
        let bench = unit.bench().symbol;
        if unit.symbol == bench {
            return Ok(());
        }
        write!(f, " ({:.2} {bench})", self.value)
    }
}

/// The values given for the keys of a rule or a step.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Asked {
    /// Numbers by the name of the key, without unit.
    pub settings: BTreeMap<&'static str, Setting>,
    /// Words, and what else is written otherwise than a number.
    pub texts: BTreeMap<&'static str, String>,
    /// Lists, in bench units.
    pub lists: BTreeMap<&'static str, Vec<f64>>,
    /// The quantity it is about.
    pub target: Option<Target>,
    /// The limit of that quantity.
    pub limit: Option<Limit>,
    /// How the uncertainty of the measurement counts.
    pub decision: Decision,
}

impl Asked {
    /// The value of a key in bench units; `NaN`, on which every limit fails with a reason, for a key that was never given.
    pub fn value(&self, key: &str) -> f64 {
        self.given(key).unwrap_or(f64::NAN)
    }

    /// The value of a key that may be left out, in bench units.
    pub fn given(&self, key: &str) -> Option<f64> {
        self.settings.get(key).map(|setting| setting.value)
    }

    /// The value as it was written.
    pub fn written(&self, key: &str) -> String {
        let text = self.texts.get(key).cloned();
        text.or_else(|| self.settings.get(key).map(Setting::to_string))
            .unwrap_or_else(|| format!("(no {key})"))
    }

    /// A sentence with the names of keys in backticks replaced by their values.
    pub(super) fn sentence(&self, asks: &str, keys: &[Key]) -> String {
        let mut sentence = asks.to_owned();
        for key in keys {
            let value = match (&self.limit, key.kind) {
                (Some(limit), Kind::Limit { .. }) => {
                    format!("{} {}", limit.side.word(), limit.written)
                }
                (_, Kind::Share | Kind::Confidence) if self.given(key.name).is_some() => {
                    percent(self.value(key.name))
                }
                _ => self.written(key.name),
            };
            for spelling in [format!("`{}_<unit>`", key.name), format!("`{}`", key.name)] {
                sentence = sentence.replace(&spelling, &value);
            }
        }
        sentence
    }

    /// The confidence level, and how reasons print it.
    fn confidence(&self) -> (f64, String) {
        let confidence = self.value(CONFIDENCE.name);
        (confidence, percent(confidence))
    }
}

/// What a rule says of a group.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// `pass`, `fail` or `undecided`.
    pub verdict: &'static str,
    /// The numbers behind it, in one sentence.
    pub reason: String,
    /// How the uncertainty of the measurement counted.
    pub decision_rule: String,
    /// What was found, with its one-sided limit.
    pub estimate: Option<Interval>,
    /// What it was set against.
    pub limit: Option<VerdictLimit>,
    /// Runs judged.
    pub n: usize,
    /// Further runs that would decide; `None` where no number would, or where it is not known.
    pub more_runs: Option<u64>,
    /// On what condition, or why there is no number.
    pub more_runs_reason: Option<String>,
    /// Runs that speak against it.
    pub failing: Vec<String>,
}

/// An estimate on the wrong side, with its limit towards the good side (`word`: lower or upper): a fail where that is `beyond` the asked value
/// too. Otherwise a protocol that holds would often look so by chance, and nothing is decided: `to_fail` are the runs in all, of `n` so far,
/// that would end in a fail if everything stayed as it is, or why no number is known.
pub(super) fn wrong_side(
    seen: &str,
    (word, limit, beyond): (&str, &str, bool),
    n: usize,
    to_fail: Result<u64, String>,
) -> Judgement {
    if beyond {
        return Judgement::fail(format!(
            "{seen}; the estimate is on the wrong side, and its {word} limit {limit} with the same confidence too"
        ));
    }
    let why = format!(
        "the estimate is on the wrong side, but its {word} limit {limit} with the same confidence is not"
    );
    let more = match to_fail {
        Ok(runs) => Ok((
            runs.saturating_sub(n as u64),
            format!(
                "{runs} runs would end in a fail if all stayed as it is: an even chance, not a promise"
            ),
        )),
        Err(unknown) => Err(format!(
            "{why}: more runs like these would end in a fail; how many is not known: {unknown}"
        )),
    };
    Judgement::undecided(format!("{seen}; {why}: too few runs to tell")).more(more)
}

impl Judgement {
    /// The limit is on the good side.
    pub fn pass(reason: impl Into<String>) -> Self {
        let mut judgement = Self::new("pass", reason);
        judgement.more_runs = Some(0);
        judgement
    }

    /// The estimate is on the wrong side, and its limit excludes that by chance, or a fixed plan allows no more failures.
    pub fn fail(reason: impl Into<String>) -> Self {
        let mut judgement = Self::new("fail", reason);
        judgement.more_runs = Some(0);
        judgement
    }

    /// Too few data to tell.
    pub fn undecided(reason: impl Into<String>) -> Self {
        Self::new("undecided", reason)
    }

    fn new(verdict: &'static str, reason: impl Into<String>) -> Self {
        Self {
            verdict,
            reason: reason.into(),
            decision_rule: String::new(),
            estimate: None,
            limit: None,
            n: 0,
            more_runs: None,
            more_runs_reason: None,
            failing: Vec::new(),
        }
    }

    /// With the estimate and what it was set against.
    fn found(mut self, estimate: Option<Interval>, limit: Option<VerdictLimit>, n: usize) -> Self {
        (self.estimate, self.limit, self.n) = (estimate, limit, n);
        self
    }

    /// With the decision rule.
    fn by(mut self, decision_rule: impl Into<String>) -> Self {
        self.decision_rule = decision_rule.into();
        self
    }

    /// With the number of further runs, or why there is none. What is decided needs none.
    fn more(mut self, more: Result<(u64, String), String>) -> Self {
        if self.verdict == "undecided" {
            (self.more_runs, self.more_runs_reason) = match more {
                Ok((runs, condition)) => (Some(runs), Some(condition)),
                Err(why) => (None, Some(why)),
            };
        }
        self
    }

    /// A pass that cannot stand, and why; anything else is as it was.
    pub(in crate::judge) fn withheld(mut self, why: &str) -> Self {
        if self.verdict == "pass" {
            self.verdict = "undecided";
            self.reason = format!("{}; not passed, because {why}", self.reason);
            self.more_runs = None;
            self.more_runs_reason = Some(format!("further runs do not settle that {why}"));
        }
        self
    }

    /// With another way to a decision: the one that takes fewer runs comes first, and its number stands.
    fn or(mut self, other: Result<(u64, String), String>) -> Self {
        if let Ok((runs, way)) = other
            && let Some(reason) = self.more_runs_reason.take()
        {
            self.more_runs_reason = Some(if self.more_runs.is_none_or(|more| runs < more) {
                self.more_runs = Some(runs);
                format!("{way}; or else {reason}")
            } else {
                format!("{reason}; or else {way}")
            });
        }
        self
    }

    /// With the reason in place of a number of further runs where a rule gives neither: what it says of itself.
    pub(in crate::judge) fn complete(mut self) -> Self {
        if self.more_runs.is_none() && self.more_runs_reason.is_none() {
            self.more_runs_reason = Some(format!("not known: {}", self.reason));
        }
        self
    }

    /// With the runs that speak against it.
    fn against(mut self, runs: &[&RunResult]) -> Self {
        self.failing = runs.iter().map(|run| run.run_id.clone()).collect();
        self
    }
}
