//! How the recordings of a run were read, how good they are, and how their clocks lie.

use super::ReadSummary;
use crate::uncertain::Quantity;
use serde::Serialize;

/// How the recording was read and how good it is.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct RecordingInfo {
    /// What the reader understood.
    pub read: ReadSummary,
    /// Samples used.
    pub samples: usize,
    /// Length, s.
    pub duration_s: f64,
    /// Usual rate, Hz.
    pub rate_hz: f64,
    /// Standard deviation of one pressure sample at rest, kPa.
    pub noise_kpa: f64,
    /// Smallest sudden drop the detector would call, kPa.
    pub smallest_drop_kpa: f64,
    /// Channels present.
    pub channels: Vec<String>,
    /// Further recordings of the run, on clocks of their own.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub further: Vec<FurtherRecording>,
}

/// A further recording of a run, and how its clock was put on that of the main one.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct FurtherRecording {
    /// Name in the rig.
    pub name: String,
    /// File, relative to the study folder.
    pub file: String,
    /// What the reader understood; empty where it could not be read.
    pub read: ReadSummary,
    /// Its channels.
    pub channels: Vec<String>,
    /// Those of them that went into the run.
    pub used: Vec<String>,
    /// How its clock lies; null where that could not be told, and then nothing of it is used.
    pub clock: Option<ClockResult>,
    /// Why there is no `clock`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// The clock of a further recording on that of the main one. With t and t' the seconds since the first row of the main and of the
/// further recording, `t = t' + offset + drift (t' - centre)`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClockResult {
    /// Main clock less further clock at the centre, s.
    pub offset: Quantity,
    /// Rate of the main clock over that of the further one, less one, as found, ppm.
    pub drift: Quantity,
    /// The drift that was taken out, ppm: that found, or 0 where it is only counted as uncertainty.
    pub drift_taken_out_ppm: f64,
    /// Time t' at which offset and drift are independent, s.
    pub centre_s: f64,
    /// Largest standard uncertainty of a time where both recordings run, s.
    pub u_largest_s: f64,
    /// Stretches or pulses the offset was found in.
    pub places: usize,
    /// Correlation of the rates of change at the offset, where it was found so.
    pub correlation: Option<f64>,
}
