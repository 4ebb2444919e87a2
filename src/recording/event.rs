//! What happened to the frame or the balloon.

use crate::uncertain::{Distribution, Quantity};
use serde::Serialize;

/// Kind of an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum EventKind {
    /// The frame cracked: a fast partial drop of pressure, nothing withdrawn, the balloon still holds.
    Fracture,
    /// The balloon tore: pressure to about zero, strokes do nothing.
    Burst,
    /// The balloon or line leaks: no fast edge, the square root of pressure falls linearly.
    Leak,
    /// The balloon slipped in the frame: a slower drop, the frame unchanged.
    Slip,
    /// The frame began to stretch for good.
    Yield,
}

impl EventKind {
    /// Its word in messages, figures and tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fracture => "fracture",
            Self::Burst => "burst",
            Self::Leak => "leak",
            Self::Slip => "slip",
            Self::Yield => "yield",
        }
    }
}

/// How well an event is witnessed. The trace never overrules the inspected frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Grade {
    /// Trace and inspection agree.
    #[serde(rename = "trace and inspection agree")]
    Agree,
    /// Seen in the trace; nobody wrote down what the frame looked like.
    #[serde(rename = "trace only")]
    TraceOnly,
    /// Seen at the inspection; the trace shows no edge.
    #[serde(rename = "inspection only")]
    InspectionOnly,
    /// Trace and inspection disagree.
    #[serde(rename = "disagree")]
    Disagree,
}

/// What one source contributes to a standard uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Contribution {
    /// Where it comes from.
    pub source: String,
    /// Its standard uncertainty, in `unit`; `None` where unknown.
    pub u: Option<f64>,
    /// Unit symbol.
    pub unit: String,
    /// How the error is distributed.
    pub distribution: Distribution,
    /// Why it is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// How likely one explanation of an event is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Odds {
    /// What: a kind of event, or what else it may be: `nothing`; for a leak `relaxation` or `hold`.
    pub of: String,
    /// Natural logarithm of its probability over that of all others, by the trace alone.
    pub log_odds: f64,
}

/// What is called the pressure of a break.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum PressureDefinition {
    /// Just before the onset by change point.
    #[serde(rename = "onset")]
    Onset,
    /// The largest sample shortly before.
    #[serde(rename = "maximum before")]
    MaximumBefore,
    /// What the frame held at the end of the step before: an interval up to where the step in which it broke would have ended.
    #[serde(rename = "last completed step")]
    LastCompletedStep,
    /// What somebody read from a dial.
    #[serde(rename = "dial")]
    Dial,
}

impl PressureDefinition {
    /// Every definition.
    pub const ALL: [Self; 4] = [
        Self::Onset,
        Self::MaximumBefore,
        Self::LastCompletedStep,
        Self::Dial,
    ];

    /// Its words in tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Onset => "onset",
            Self::MaximumBefore => "maximum before",
            Self::LastCompletedStep => "last completed step",
            Self::Dial => "dial",
        }
    }

    /// What it takes for the fracture pressure, as a sentence goes on.
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Onset => {
                "gauge pressure just before the onset of the first fracture, the onset found as a change point of the trace; not the dial, not the highest pressure, nor the pressure after the fall"
            }
            Self::MaximumBefore => {
                "the largest gauge pressure shortly before the fall of the first fracture; it lies above the onset by what noise and overshoot add"
            }
            Self::LastCompletedStep => {
                "between what the frame held at the end of the last completed step and where the next one would have ended, taken to rise as far as the one before; a strength is known by that step only (interval-censored)"
            }
            Self::Dial => "what somebody read from the dial of the inflator",
        }
    }
}

/// The pressure of an event by one definition. Different definitions are never pooled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PressureByDefinition {
    /// The definition.
    pub definition: PressureDefinition,
    /// Gauge pressure, kPa; the lower end where only an interval is known.
    pub pressure: Quantity,
    /// The upper end where only an interval is known, kPa.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_most: Option<Quantity>,
    /// What its standard uncertainty is made of.
    pub budget: Vec<Contribution>,
}

/// An event with the interval it happened in and the evidence for it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Event {
    /// What happened.
    pub kind: EventKind,
    /// Onset, s on the trace's own clock from its first sample; `None` for an event known from the inspection only.
    pub t_s: Option<f64>,
    /// Earliest possible onset, s.
    pub t_lo_s: Option<f64>,
    /// Latest possible onset, s.
    pub t_hi_s: Option<f64>,
    /// First data row of the file (counted from 0) at or after the onset.
    pub sample: Option<usize>,
    /// Gauge pressure just before the onset, kPa.
    pub pressure: Quantity,
    /// Fall of pressure, kPa, positive.
    pub drop: Quantity,
    /// Injected volume at the onset, mL.
    pub volume: Quantity,
    /// The pressure by every definition that can be had; empty for kinds whose pressure has only one.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub pressures: Vec<PressureByDefinition>,
    /// Probability of the kind, 0 to 1: by the trace alone, or where the inspected frame settled the kind what an eye is worth.
    pub confidence: f64,
    /// The log-odds of each kind by the trace alone; empty where the trace shows no event.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub log_odds: Vec<Odds>,
    /// Which witnesses agree.
    pub grade: Grade,
    /// The reasons in words, each checkable on the plot.
    pub evidence: Vec<String>,
    /// Index of the last sample before the onset in the sorted trace.
    #[serde(skip)]
    pub before: usize,
    /// Index of the first sample after the fall in the sorted trace.
    #[serde(skip)]
    pub after: usize,
}
