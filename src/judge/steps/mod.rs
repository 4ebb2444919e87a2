//! Steps that a protocol may ask for. A new step is a file here and a line in [`STEPS`].
//!
//! A step looks at the results of one run, never at its trace, and says what it found where the run came nearest to what was asked, or went
//! furthest beyond it, and what would have been within. Whether that is kept follows from the two alone, in one place for all steps.

mod balloon;
mod fill;
mod holds;
mod maximum;
mod order;
mod ramp;
mod strokes;
mod targets;

use super::rules::{Asked, Key};
use crate::recording::{Event, EventKind, Phase, PhaseKind, RunResult};
use crate::uncertain::Quantity;

/// Every step known.
pub const STEPS: &[&dyn Step] = &[
    &balloon::Balloon,
    &order::Order,
    &fill::Fill,
    &ramp::Ramp,
    &targets::Targets,
    &holds::Holds,
    &strokes::Strokes,
    &maximum::Maximum,
];

/// A step of a protocol.
pub trait Step: Sync {
    /// Its name in a protocol.
    fn name(&self) -> &'static str;
    /// What it looks at, for lists.
    fn meaning(&self) -> &'static str;
    /// Its keys, beside `step` and `arm`.
    fn keys(&self) -> &'static [Key];
    /// Whether the keys given make sense together.
    ///
    /// # Errors
    /// What is wrong, as the end of a sentence about the step, and help.
    fn consistent(&self, asked: &Asked) -> Result<(), (String, String)>;
    /// What it demands of every run, so that steps which nobody can keep together are told; of most steps nothing that could contradict.
    fn claims(&self, _: &Asked) -> Vec<Claim> {
        Vec::new()
    }
    /// What is asked, with its values.
    fn asks(&self, asked: &Asked) -> String;
    /// What the run did.
    ///
    /// # Errors
    /// Why that is not known.
    fn look(&self, asked: &Asked, run: &RunResult) -> Result<Found, String>;
}

impl std::fmt::Debug for dyn Step {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

/// What a step demands of every run.
#[derive(Debug, Clone, PartialEq)]
pub enum Claim {
    /// Something lies between two values.
    Between {
        /// What, with its unit.
        of: String,
        /// Least.
        least: f64,
        /// Most.
        most: f64,
    },
    /// This pressure is aimed at, kPa.
    AimsAt(f64),
    /// No pressure above this, kPa.
    NeverAbove(f64),
}

impl Claim {
    fn between(of: impl Into<String>, (least, most): (f64, f64)) -> Self {
        Self::Between {
            of: of.into(),
            least,
            most,
        }
    }
}

/// What a run did, and what would have been within what was asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// What was found.
    pub quantity: Quantity,
    /// Least that is within, in the unit of the quantity.
    pub least: f64,
    /// Most that is within.
    pub most: f64,
    /// When, s from the first sample.
    pub when_s: Option<f64>,
    /// Where it was looked for.
    pub reason: String,
}

/// Room for rounding where something found is what was asked, relative.
const ROUNDING: f64 = 1e-9;

impl Found {
    /// How far the value lies beyond the nearer limit, with its sign.
    fn beyond(&self) -> f64 {
        let Some(value) = self.quantity.value else {
            return 0.0;
        };
        let room = ROUNDING * value.abs();
        if value < self.least - room {
            value - self.least
        } else if value > self.most + room {
            value - self.most
        } else {
            0.0
        }
    }

    /// The same as a quantity; `None` within.
    pub fn deviation(&self) -> Option<Quantity> {
        let beyond = self.beyond();
        (beyond != 0.0).then(|| {
            let mut deviation = self.quantity.clone();
            deviation.value = Some(beyond);
            "found less the nearer limit, which has no uncertainty"
                .clone_into(&mut deviation.method);
            deviation
        })
    }

    /// How much room is left to the nearer limit; negative beyond it.
    fn room(&self) -> f64 {
        let value = self.quantity.value.unwrap_or(f64::NAN);
        (value - self.least).min(self.most - value)
    }

    /// Of several places the one with the least room.
    fn tightest(all: impl Iterator<Item = Self>) -> Option<Self> {
        all.min_by(|a, b| a.room().total_cmp(&b.room()))
    }
}

/// Limits of which either may be missing.
fn within(asked: &Asked, least: &str, most: &str) -> (f64, f64) {
    (
        asked.given(least).unwrap_or(f64::NEG_INFINITY),
        asked.given(most).unwrap_or(f64::INFINITY),
    )
}

/// `at least x and at most y` of two keys, as far as they were given.
fn in_words(asked: &Asked, least: &str, most: &str) -> String {
    let told = [(least, "at least"), (most, "at most")];
    let told = told.iter().filter(|(key, _)| asked.given(key).is_some());
    let told: Vec<String> = told
        .map(|(key, word)| format!("{word} {}", asked.written(key)))
        .collect();
    told.join(" and ")
}

/// A fault where none of several keys was given.
fn one_of(asked: &Asked, keys: &[&str], help: &str) -> Result<(), (String, String)> {
    if keys
        .iter()
        .any(|key| asked.settings.contains_key(key) || asked.lists.contains_key(key))
    {
        Ok(())
    } else {
        Err(("says nothing to keep".to_owned(), help.to_owned()))
    }
}

/// Phases of a kind.
fn phases(run: &RunResult, kind: PhaseKind) -> impl Iterator<Item = &Phase> {
    run.phases.iter().filter(move |phase| phase.kind == kind)
}

/// An error where the run has no phases at all: no recording, then.
fn recorded(run: &RunResult) -> Result<(), String> {
    if run.phases.is_empty() {
        Err("the run has no usable recording".to_owned())
    } else {
        Ok(())
    }
}

/// What ends a run before its plan: the first fracture, burst, leak or slip with a time.
fn first_end(run: &RunResult) -> Option<&Event> {
    let ends = run
        .events
        .iter()
        .filter(|event| event.kind != EventKind::Yield && event.t_s.is_some());
    ends.min_by(|a, b| {
        a.t_s
            .unwrap_or(f64::NAN)
            .total_cmp(&b.t_s.unwrap_or(f64::NAN))
    })
}

/// True where such an event falls into a phase: what the pressure did there was not the operator's doing.
fn disturbed(run: &RunResult, phase: &Phase) -> bool {
    run.events.iter().any(|event| {
        event.kind != EventKind::Yield
            && event
                .t_s
                .is_some_and(|t| t >= phase.t_start_s && t <= phase.t_end_s)
    })
}

/// A pressure at an end of a phase, kPa.
fn pressure(phase: &Phase, value: f64, method: &str) -> Quantity {
    match phase.ends.u_pressure_kpa {
        Some(u) => Quantity::known(value, u, "kPa", method),
        None => Quantity::without_u(
            value,
            "kPa",
            method,
            "the uncertainty of the channel is not known",
        ),
    }
}
