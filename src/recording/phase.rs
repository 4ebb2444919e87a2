//! What the operator was doing.

use serde::Serialize;

/// Kind of a phase.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum PhaseKind {
    /// Vented or at rest near zero, nothing injected.
    Vent,
    /// Syringe fill at low pressure.
    Fill,
    /// Hand-over from syringe to inflator at the stopcock.
    Switch,
    /// Volume going in under pressure.
    Stroke,
    /// Volume constant under pressure.
    Hold,
    /// Volume withdrawn and put back in the middle of a run: refill of the inflator or a partial deflation.
    Refill,
    /// Volume withdrawn to the end.
    Deflate,
}

/// A stretch of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Phase {
    /// What the operator was doing.
    pub kind: PhaseKind,
    /// Start, s from the first sample.
    pub t_start_s: f64,
    /// End, s from the first sample.
    pub t_end_s: f64,
    /// First sample of the trace (index after sorting by time).
    #[serde(skip)]
    pub start: usize,
    /// One past the last sample.
    #[serde(skip)]
    pub end: usize,
}
