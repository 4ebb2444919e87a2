//! What to simulate: plain values, no outcome among them. What comes of a run is decided by the physics.

use super::balloon::Balloon;
use super::frame::{Construction, InnerValve};
use super::line::Line;
use super::operator::Habit;
use super::pulse::FlowMeters;
use super::recorder::{Fault, Logger};
use super::solver::{Seat, WeakSpot};

/// A study to be simulated.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Folder name of the study.
    pub name: String,
    /// Title of the study.
    pub title: String,
    /// Seed of every stream of random numbers.
    pub seed: u64,
    /// Day of the runs: year, month, day.
    pub day: (u16, u8, u8),
    /// Share of the variance of an operator's bias that stays from stage to stage; the rest is drawn anew each time a caliper is set up.
    pub hand_stays: f64,
    /// Instruments of the duplicator.
    pub flow_meters: FlowMeters,
    /// The line of the bench.
    pub line: Line,
    /// Density of the fluid, g/mL.
    pub density_g_per_ml: f64,
    /// Temperature of the bath, °C.
    pub bath_degc: f64,
    /// Recorders in use; the first one's rig is the study's, runs on another name theirs in the column `rig`.
    pub loggers: Vec<Logger>,
    /// Balloons.
    pub balloons: Vec<BalloonPlan>,
    /// Text of the protocol, where the study has one.
    pub protocol: Option<&'static str>,
    /// Thresholds the study sets: name and value as TOML writes it.
    pub settings: Vec<(String, String)>,
    /// Runs in order.
    pub runs: Vec<RunPlan>,
}

/// A model of balloon: what its label says and what it does.
#[derive(Debug, Clone)]
pub struct BalloonPlan {
    /// Name.
    pub id: String,
    /// Labelled diameter, mm.
    pub nominal_diameter_mm: f64,
    /// Labelled nominal pressure, atm.
    pub nominal_pressure_atm: f64,
    /// Labelled rated burst pressure, atm.
    pub rated_burst_pressure_atm: f64,
    /// Lot.
    pub lot: String,
    /// Error of the diameters of its chart, relative.
    pub chart_error: f64,
    /// What it does.
    pub balloon: Balloon,
}

/// A frame.
#[derive(Debug, Clone)]
pub struct FramePlan {
    /// Name.
    pub id: String,
    /// How it is built.
    pub construction: Construction,
    /// Label size, mm.
    pub label_size_mm: f64,
    /// True inner diameter, mm.
    pub true_id_mm: f64,
    /// Inner diameter of the bare frame, mm.
    pub stent_id_mm: f64,
    /// Outer diameter, mm.
    pub outer_diameter_mm: f64,
    /// Height of the band, mm.
    pub band_height_mm: f64,
    /// The inner valve in it, where it is dilated after implanting one.
    pub inner: Option<InnerValve>,
}

/// What was written down after looking at the frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum InspectionNote {
    /// What there was to see.
    AsSeen,
    /// Nothing.
    Missing,
    /// This word, right or wrong.
    Says(String),
}

/// A run.
#[derive(Debug, Clone)]
pub struct RunPlan {
    /// Name.
    pub id: String,
    /// The frame; none in a blank or free run.
    pub frame: Option<FramePlan>,
    /// Number of the balloon in [`Plan::balloons`]; none in a blank run.
    pub balloon: Option<usize>,
    /// Arm.
    pub arm: String,
    /// Number of the recorder in [`Plan::loggers`].
    pub logger: usize,
    /// Who turned the screw.
    pub operator: String,
    /// Start, s after midnight, local time.
    pub start_s: u32,
    /// How the operator works.
    pub habit: Habit,
    /// How the frame sits.
    pub seat: Seat,
    /// Pressure at which this very balloon bursts, kPa; else its model's.
    pub burst_kpa: Option<f64>,
    /// A weak spot of this very balloon.
    pub weak_spot: Option<WeakSpot>,
    /// What went wrong while recording.
    pub faults: Vec<Fault>,
    /// What went wrong about the first break of the frame, its times counted from there; nothing where it holds.
    pub faults_at_break: Vec<Fault>,
    /// What the inspection note says.
    pub inspection: InspectionNote,
    /// Free words.
    pub note: String,
    /// Whether plugs were passed.
    pub plugs: bool,
    /// Whether outlines were photographed; the scale in mm for a pixel, or 0 for coordinates in mm.
    pub outlines: Option<f64>,
    /// Effective orifice area before, cm², where flow was measured.
    pub flow_eoa_cm2: Option<f64>,
}

impl RunPlan {
    /// The kind of the run.
    pub fn kind(&self) -> crate::recording::RunKind {
        use crate::recording::RunKind;
        match (&self.frame, self.balloon) {
            (Some(_), _) => RunKind::Frame,
            (None, Some(_)) => RunKind::Free,
            (None, None) => RunKind::Blank,
        }
    }
}
