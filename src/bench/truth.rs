//! The truth of a simulated study: kept outside the study folder, never given to the analysis.

use super::gauge::Outline;
use super::recorder::Fault;
use super::run::{TrueEvent, TrueLoad, TruePhase};
use crate::recording::{Outcome, RunKind};
use serde::Serialize;
use std::collections::BTreeMap;

/// Name of the truth schema.
pub const TRUTH_SCHEMA: &str = "bench-truth/1";
/// Permanent stretch from which a whole frame counts as stretched, mm: well above what calipers tell apart.
pub const STRETCHED_MM: f64 = 0.1;

/// The truth of a study.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// Schema name and version.
    pub schema: &'static str,
    /// Folder name of the study.
    pub study: String,
    /// Title.
    pub title: String,
    /// The line.
    pub line: TrueLine,
    /// Balloons.
    pub balloons: Vec<TrueBalloon>,
    /// Bias of each operator's caliper readings, mm.
    pub operator_bias_mm: BTreeMap<String, f64>,
    /// Runs.
    pub runs: Vec<TrueRun>,
}

/// The line as it was.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrueLine {
    /// Elastic compliance, mL/kPa.
    pub compliance_ml_per_kpa: f64,
    /// Trapped air, mL.
    pub trapped_air_ml: f64,
    /// Ambient pressure, kPa.
    pub ambient_kpa: f64,
}

/// A free balloon as it was.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrueBalloon {
    /// Name.
    pub balloon_id: String,
    /// Diameter of the unfolded balloon, mm.
    pub unfolded_diameter_mm: f64,
    /// Gauge pressure, kPa.
    pub pressure_kpa: Vec<f64>,
    /// Diameter there, mm.
    pub diameter_mm: Vec<f64>,
    /// Volume there, mL.
    pub volume_ml: Vec<f64>,
}

/// Diameters as they were, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrueDiameters {
    /// Before.
    pub before_mm: f64,
    /// At the end of the last hold; none after a burst, leak or slip.
    pub loaded_mm: Option<f64>,
    /// After, fully recovered.
    pub after_mm: f64,
    /// (loaded − after) / loaded.
    pub recoil: Option<f64>,
    /// after − before.
    pub set_mm: f64,
    /// set / before.
    pub set_ratio: f64,
    /// (loaded − after) / (loaded − before).
    pub recovery: Option<f64>,
}

/// Geometric areas π D²/4 as they were, mm².
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrueAreas {
    /// Before.
    pub before_mm2: f64,
    /// Loaded.
    pub loaded_mm2: Option<f64>,
    /// After.
    pub after_mm2: f64,
    /// (after / before) − 1.
    pub gain: f64,
}

/// The inner edge as it was.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrueOutline {
    /// Area, mm².
    pub area_mm2: f64,
    /// Perimeter, mm.
    pub perimeter_mm: f64,
    /// Diameter of the largest circle that fits, mm.
    pub largest_inscribed_mm: f64,
}

impl From<&Outline> for TrueOutline {
    fn from(outline: &Outline) -> Self {
        Self {
            area_mm2: outline.area(),
            perimeter_mm: outline.perimeter(),
            largest_inscribed_mm: outline.largest_inscribed(),
        }
    }
}

/// Flow figures as they were.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrueFlow {
    /// Effective orifice area by the definition of ISO 5840, cm².
    pub eoa_cm2: f64,
    /// Mean pressure difference over the positive-pressure period of forward flow, mmHg.
    pub mean_gradient_mmhg: f64,
    /// Forward stroke volume, mL.
    pub stroke_volume_ml: f64,
    /// What flows back of it, %.
    pub regurgitant_percent: f64,
}

/// A run as it was.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrueRun {
    /// Name.
    pub run_id: String,
    /// Kind.
    pub kind: RunKind,
    /// Arm.
    pub arm: String,
    /// Construction of the frame.
    pub construction: Option<String>,
    /// Rig file of the recording.
    pub rig: String,
    /// What came of it.
    pub outcome: Outcome,
    /// Outcomes that are fair as well, where the inspection note is wrong.
    pub also_fair: Vec<Outcome>,
    /// The inspection note as written.
    pub inspection: String,
    /// Breaks of the frame.
    pub breaks: usize,
    /// Highest pressure in the balloon, kPa.
    pub highest_pressure_kpa: f64,
    /// Length of contact between balloon and frame, mm.
    pub contact_length_mm: Option<f64>,
    /// Rows of the recording.
    pub rows: usize,
    /// Time of the last of them, s from the first sample.
    #[serde(skip)]
    pub ends_s: f64,
    /// The same faults as they are.
    #[serde(skip)]
    pub spoilt: Vec<Fault>,
    /// Faults of the recording, in words.
    pub faults: Vec<String>,
    /// What the operator did.
    pub phases: Vec<TruePhase>,
    /// What happened.
    pub events: Vec<TrueEvent>,
    /// What the frame carried, every so often.
    #[serde(skip)]
    pub loads: Vec<TrueLoad>,
    /// Height of the frame's band, mm.
    #[serde(skip)]
    pub band_height_mm: Option<f64>,
    /// Diameters of the frame.
    pub diameters: Option<TrueDiameters>,
    /// Areas of the frame.
    pub areas: Option<TrueAreas>,
    /// The inner edge by stage.
    pub outlines: BTreeMap<&'static str, TrueOutline>,
    /// Flow by stage.
    pub flow: BTreeMap<&'static str, TrueFlow>,
}

impl Truth {
    /// As JSON text. Numbers are rounded to nine digits so that the text does not hang on the last bits of a platform's functions.
    pub fn to_json(&self) -> serde_json::Result<String> {
        let mut value = serde_json::to_value(self)?;
        round(&mut value);
        let mut text = serde_json::to_string_pretty(&value)?;
        text.push('\n');
        Ok(text)
    }
}

/// Round every number to nine significant digits.
fn round(value: &mut serde_json::Value) {
    match value {
        serde_json::Value::Array(items) => items.iter_mut().for_each(round),
        serde_json::Value::Object(members) => members.values_mut().for_each(round),
        serde_json::Value::Number(number) if number.is_f64() => {
            let short = number
                .as_f64()
                .and_then(|x| format!("{x:.8e}").parse::<f64>().ok())
                .and_then(serde_json::Number::from_f64);
            if let Some(short) = short {
                *number = short;
            }
        }
        _ => {}
    }
}
