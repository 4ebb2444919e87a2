//! The tables of a study as typed rows. Every row keeps the line it came from.

use super::observation::ObservationRow;
use serde::Serialize;

/// Kind of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum RunKind {
    /// Balloon replaced by a plug: measures the line.
    Blank,
    /// Balloon without a frame: measures the balloon.
    Free,
    /// Balloon inside a frame.
    Frame,
}

/// When a diameter was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Stage {
    /// Before the run.
    Before,
    /// On the inflated balloon, at the end of the last hold.
    Loaded,
    /// After the run.
    After,
}

impl Stage {
    /// Its word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Before => "before",
            Self::Loaded => "loaded",
            Self::After => "after",
        }
    }
}

/// How a diameter was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum GaugeMethod {
    /// Two-point caliper.
    Caliper,
    /// Largest plug gauge that passes.
    Plug,
    /// Optical reading.
    Optical,
}

impl GaugeMethod {
    /// The word used in tables, and the key in [`super::Diameters::by_method`].
    pub fn word(self) -> &'static str {
        match self {
            Self::Caliper => "caliper",
            Self::Plug => "plug",
            Self::Optical => "optical",
        }
    }
}

/// What the eye saw after the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Inspection {
    /// The frame is broken.
    Fractured,
    /// The frame is whole.
    Intact,
    /// The balloon burst.
    Burst,
    /// The balloon or line leaked.
    Leak,
    /// The balloon slipped.
    Slip,
    /// A blank run.
    Blank,
}

impl Inspection {
    /// Its word in `runs.csv`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fractured => "fractured",
            Self::Intact => "intact",
            Self::Burst => "burst",
            Self::Leak => "leak",
            Self::Slip => "slip",
            Self::Blank => "blank",
        }
    }
}

/// A row of `runs.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct RunRow {
    /// Name of the run, unique in the study.
    pub run_id: String,
    /// Kind of the run.
    pub kind: RunKind,
    /// Frame, for frame runs.
    pub frame_id: Option<String>,
    /// Balloon, for free and frame runs.
    pub balloon_id: Option<String>,
    /// Arm of the study.
    pub arm: Option<String>,
    /// Recording, relative to the study folder; may be empty for runs with diameters only.
    pub trace: Option<String>,
    /// Rig file of this run where it is not the study's, relative to the study folder.
    pub rig: Option<String>,
    /// Further recordings by the name of their column (`trace_camera`), relative to the study folder.
    pub further: std::collections::BTreeMap<String, String>,
    /// Operator.
    pub operator: Option<String>,
    /// Start as written (ISO 8601).
    pub started_at: Option<String>,
    /// What the eye saw.
    pub inspection: Option<Inspection>,
    /// The inner valve that was implanted in the ring before this run; none for a ring as it came.
    pub inner_valve: Option<String>,
    /// True where the table has the column `inner_valve`: only then does an empty cell say that there was none.
    pub inner_valve_told: bool,
    /// Free words.
    pub note: Option<String>,
    /// File (table or sheet) of the row.
    pub file: String,
    /// Line of the row, counted from 1.
    pub line: u64,
}

/// A row of `frames.csv`; lengths in mm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FrameRow {
    /// Name of the frame.
    pub frame_id: String,
    /// Construction class.
    pub construction: Option<String>,
    /// Label size, mm: a name, not a measured length.
    pub label_size_mm: Option<f64>,
    /// True inner diameter, mm.
    pub true_id_mm: Option<f64>,
    /// Inner diameter of the bare frame, mm.
    pub stent_id_mm: Option<f64>,
    /// Outer diameter, mm.
    pub outer_diameter_mm: Option<f64>,
    /// Height of the band, mm.
    pub band_height_mm: Option<f64>,
}

/// A row of `balloons.csv`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BalloonRow {
    /// Name of the balloon.
    pub balloon_id: String,
    /// Labelled diameter, mm.
    pub nominal_diameter_mm: Option<f64>,
    /// Length of the cylinder, mm.
    pub working_length_mm: Option<f64>,
    /// Pressure at which the labelled diameter is reached, kPa.
    pub nominal_pressure_kpa: Option<f64>,
    /// Rated burst pressure, kPa.
    pub rated_burst_pressure_kpa: Option<f64>,
    /// Lot.
    pub lot: Option<String>,
}

/// A point of a maker's chart.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartRow {
    /// Balloon.
    pub balloon_id: String,
    /// Gauge pressure, kPa.
    pub pressure_kpa: f64,
    /// Diameter, mm.
    pub diameter_mm: f64,
}

/// A reading of `calipers.csv`, in mm.
#[derive(Debug, Clone, PartialEq)]
pub struct CaliperRow {
    /// Run.
    pub run_id: String,
    /// When.
    pub stage: Stage,
    /// How.
    pub method: GaugeMethod,
    /// Angle of the two points, degrees.
    pub orientation_deg: Option<f64>,
    /// Number of the repeat.
    pub repeat: Option<u32>,
    /// Operator.
    pub operator: Option<String>,
    /// Reading, mm.
    pub value_mm: f64,
    /// Line in the table.
    pub line: u64,
    /// True where it stands off its repeats or its ring by far more than readings do.
    pub stands_off: bool,
}

impl CaliperRow {
    /// True for a positive length.
    pub fn usable(&self) -> bool {
        self.value_mm.is_finite() && self.value_mm > 0.0
    }
}

/// A closed outline, in mm (or in pixels where no scale is known).
#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    /// Run.
    pub run_id: String,
    /// When.
    pub stage: Stage,
    /// Points in order, mm.
    pub points_mm: Vec<(f64, f64)>,
    /// Relative standard uncertainty of the scale; `None` where coordinates came in mm.
    pub u_scale_rel: Option<f64>,
    /// One pixel in mm; `None` where coordinates came in mm.
    pub mm_per_px: Option<f64>,
    /// First line in the table.
    pub line: u64,
}

/// A pulse-duplicator recording of a run at a stage.
#[derive(Debug, Clone, PartialEq)]
pub struct FlowRecord {
    /// Run.
    pub run_id: String,
    /// Before or after the dilation.
    pub stage: Stage,
    /// Time, s.
    pub time_s: Vec<f64>,
    /// Forward flow, mL/s.
    pub flow_ml_s: Vec<f64>,
    /// Pressure difference over the valve, mmHg.
    pub dp_mmhg: Vec<f64>,
    /// First line in the table.
    pub line: u64,
}

/// All tables of a study.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct StudyTables {
    /// Runs, in the order of the table.
    pub runs: Vec<RunRow>,
    /// Frames.
    pub frames: Vec<FrameRow>,
    /// Balloons.
    pub balloons: Vec<BalloonRow>,
    /// Maker's charts.
    pub charts: Vec<ChartRow>,
    /// Caliper and plug readings.
    pub calipers: Vec<CaliperRow>,
    /// Outlines.
    pub contours: Vec<Contour>,
    /// Photographs.
    pub photographs: Vec<super::PhotographRow>,
    /// Free edges of leaflets.
    pub leaflets: Vec<super::LeafletRow>,
    /// Flow recordings.
    pub flows: Vec<FlowRecord>,
    /// Other observations.
    pub observations: Vec<ObservationRow>,
    /// The cells of the tables of runs, frames and balloons, for groups.
    pub listed: super::Listed,
}
