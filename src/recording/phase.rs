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
    /// Pressure and volume at its ends.
    #[serde(flatten)]
    pub ends: PhaseEnds,
    /// First sample of the trace (index after sorting by time).
    #[serde(skip)]
    pub start: usize,
    /// One past the last sample.
    #[serde(skip)]
    pub end: usize,
}

/// What stood at the ends of a phase: medians of the three samples there, so that no single sample makes them. Missing where none is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct PhaseEnds {
    /// Gauge pressure at its start, kPa.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pressure_start_kpa: Option<f64>,
    /// Gauge pressure at its end, kPa.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pressure_end_kpa: Option<f64>,
    /// Standard uncertainty of the higher of the two, kPa.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub u_pressure_kpa: Option<f64>,
    /// Injected volume at its end, mL.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volume_end_ml: Option<f64>,
    /// Standard uncertainty of that, mL.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub u_volume_ml: Option<f64>,
}
