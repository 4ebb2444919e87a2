//! What a protocol says of a study: verdicts on its criteria, and how far runs kept its steps.

use super::group::Interval;
use crate::uncertain::Quantity;
use serde::Serialize;

/// A criterion of the protocol, judged.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Verdict {
    /// Name of the rule.
    pub rule: String,
    /// Group judged.
    pub group: String,
    /// `pass` (the criterion holds), `fail` or `undecided`.
    pub verdict: String,
    /// The numbers behind it, in one sentence.
    pub reason: String,
    /// What is asked, as a sentence with its values.
    pub asks: String,
    /// How the uncertainty of the measurement counts: simple acceptance, or guarded acceptance with its band.
    pub decision_rule: String,
    /// What was found, with its one-sided confidence limit.
    pub estimate: Option<Interval>,
    /// What it is set against.
    pub limit: Option<VerdictLimit>,
    /// Runs judged.
    pub n: usize,
    /// How many further runs would decide: 0 where it is decided, null where no number of runs like these would, or where it is not known.
    pub more_runs: Option<u64>,
    /// On what condition, or why there is no number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub more_runs_reason: Option<String>,
    /// Runs that speak against it, by name.
    pub failing_runs: Vec<String>,
}

/// A limit of a criterion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VerdictLimit {
    /// `at least`, `at most` or `is`.
    pub side: String,
    /// The limit; null for a word.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: String,
    /// The limit as it was written.
    pub written: String,
}

/// Whether a run kept a step of the protocol.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum StepVerdict {
    /// Within what was asked.
    #[serde(rename = "kept")]
    Kept,
    /// Beyond it.
    #[serde(rename = "deviated")]
    Deviated,
    /// The results do not tell.
    #[serde(rename = "not known")]
    NotKnown,
}

impl StepVerdict {
    /// The word used in tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Kept => "kept",
            Self::Deviated => "deviated",
            Self::NotKnown => "not known",
        }
    }
}

/// A step of the protocol set against a run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepResult {
    /// Name of the step.
    pub step: String,
    /// Place of the step in the protocol, from 1.
    pub number: usize,
    /// What was asked, with its values.
    pub asked: String,
    /// What was found where the run came nearest to, or went furthest beyond, what was asked.
    pub found: Quantity,
    /// How far beyond the nearer limit it lies, with its sign; null where it does not.
    pub deviation: Option<Quantity>,
    /// When, s from the first sample.
    pub when_s: Option<f64>,
    /// Kept, deviated or not known.
    pub verdict: StepVerdict,
    /// Where it was looked for, or why it is not known.
    pub reason: String,
}

/// How the runs of a group kept the protocol.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct GroupAdherence {
    /// Group.
    pub group: String,
    /// Runs of it that count.
    pub n: usize,
    /// Runs that kept every step.
    pub kept_all: usize,
    /// Runs that deviated from at least one step.
    pub deviated: Vec<String>,
    /// Runs that deviated from none, but of which not every step is known.
    pub not_known: Vec<String>,
}
