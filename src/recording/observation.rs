//! What else was seen or measured of a run, and what the runs of an arm say of it.

use super::group::Interval;
use super::study::Stage;
use crate::uncertain::Quantity;
use serde::Serialize;
use std::collections::BTreeMap;

/// Grades in words, each at its place in the order (common practice, no source).
pub const GRADES: &[(&str, u8)] = &[
    ("none", 0),
    ("trace", 1),
    ("minimal", 1),
    ("mild", 2),
    ("moderate", 3),
    ("severe", 4),
];

/// What the value of an observation is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ObservationKind {
    /// A number with a unit.
    Number,
    /// A grade out of an order.
    Grade,
    /// Yes or no.
    YesNo,
    /// Words.
    Text,
}

impl ObservationKind {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Number => "number",
            Self::Grade => "grade",
            Self::YesNo => "yes or no",
            Self::Text => "words",
        }
    }
}

/// A row of `observations.csv`: as written, and as understood.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ObservationRow {
    /// Run.
    pub run_id: String,
    /// When.
    pub stage: Option<Stage>,
    /// What was seen or measured.
    pub what: String,
    /// Number, grade or yes/no, as written.
    pub value: String,
    /// Unit as written.
    pub unit: Option<String>,
    /// Who saw it.
    pub observer: Option<String>,
    /// What it is called here: one name for all spellings.
    pub name: String,
    /// What the value is; null where it is empty or not what was expected.
    pub kind: Option<ObservationKind>,
    /// The number in the unit as written.
    pub number: Option<f64>,
    /// The number in the bench unit with its standard uncertainty.
    pub quantity: Option<Quantity>,
    /// The grade.
    pub grade: Option<String>,
    /// Place of the grade in its order, from 0.
    pub grade_rank: Option<u8>,
    /// Yes or no.
    pub yes: Option<bool>,
    /// Why there is no kind.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

impl ObservationRow {
    /// True where it says that there is none of it (no, 0, or the lowest grade, also where a unit is missing) or nothing at all.
    pub fn says_none(&self) -> bool {
        let written = self.value.to_lowercase();
        self.yes == Some(false)
            || self.number == Some(0.0)
            || self.grade_rank == Some(0)
            || matches!(written.as_str(), "" | "no" | "none" | "0" | "0.0")
    }
}

/// What the runs of an arm say of one observation. One value a run counts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ObservationSummary {
    /// Name of the observation.
    pub name: String,
    /// When.
    pub stage: Option<Stage>,
    /// What its values are.
    pub kind: ObservationKind,
    /// Runs that have it.
    pub n: usize,
    /// Runs of the arm that do not.
    pub without: usize,
    /// Of numbers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<NumberSummary>,
    /// Of counts: expected number a run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate: Option<Interval>,
    /// Of grades: runs with each.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grades: Option<GradeSummary>,
    /// Of yes and no: share of yes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<ShareSummary>,
    /// How values of one run were put together, and what is missing.
    pub method: String,
}

/// Numbers of an arm, in one unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NumberSummary {
    /// Mean with its t-interval.
    pub mean: Interval,
    /// Sample standard deviation; null for a single value.
    pub sd: Option<f64>,
    /// Middle value.
    pub median: f64,
    /// Smallest.
    pub min: f64,
    /// Largest.
    pub max: f64,
    /// Unit of all of them.
    pub unit: String,
}

/// Grades of an arm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GradeSummary {
    /// Runs with each grade.
    pub counts: BTreeMap<String, usize>,
    /// The middle grade, the lower one of two; null where words and numbers are mixed.
    pub median: Option<String>,
}

/// Yes and no of an arm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShareSummary {
    /// Runs with yes.
    pub yes: usize,
    /// Share of yes, exact two-sided limits.
    pub share: Interval,
}
