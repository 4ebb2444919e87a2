//! The results as `results.json` holds them. Field names are the file contract; every quantity carries unit and uncertainty.

use super::{
    BalloonRating, BalloonResult, ByTrials, Comparison, DoseResult, Event, Finding, FlowResult,
    FrameResult, GaugeMethod, GaugeStudy, GroupAdherence, IncidenceResult, Inspection,
    LeafletResult, LineResult, MethodAgreement, ObservationRow, ObservationSummary, Phase,
    PhotographResult, ReadSummary, RelaxationResult, RunKind, Setup, StaircaseResult, StepResult,
    StrengthPoint, StrengthResult, SurrogateRange, ValueResult, Verdict,
};
use crate::uncertain::{Quantity, StatedBudget};
use serde::Serialize;
use std::collections::BTreeMap;

/// Name of the results schema.
pub const SCHEMA: &str = "hooptrace-results/1";

/// Everything one analysis says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Analysis {
    /// Schema name and version.
    pub schema: String,
    /// The program.
    pub tool: Tool,
    /// The study.
    pub study: StudyInfo,
    /// Every file read, with its checksum.
    pub inputs: Vec<Input>,
    /// Findings that belong to no run.
    pub findings: Vec<Finding>,
    /// One entry a run, in the order of the runs table.
    pub runs: Vec<RunResult>,
    /// Statistics of each group.
    pub groups: Vec<Group>,
    /// Comparisons between groups, and between states of the same frames.
    pub comparisons: Vec<Comparison>,
    /// Verdicts on the protocol's criteria.
    pub verdicts: Vec<Verdict>,
    /// How the runs of each group kept the steps of the protocol.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub adherence: Vec<GroupAdherence>,
    /// Rated burst pressures from burst tests.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub balloon_ratings: Vec<BalloonRating>,
    /// How methods of measuring diameters agree.
    pub agreement: Vec<MethodAgreement>,
    /// What operators and repeats add to the scatter of diameters.
    pub gauge_rr: Vec<GaugeStudy>,
}

/// The program that wrote the results.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Tool {
    /// Program name.
    pub name: String,
    /// Program version.
    pub version: String,
}

/// The study and the settings used.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StudyInfo {
    /// Title of the study.
    pub title: String,
    /// Rig name.
    pub rig: String,
    /// Rig file, relative to the study folder.
    pub rig_file: String,
    /// Ambient (absolute) pressure, kPa.
    pub ambient_pressure_kpa: f64,
    /// Side of the transducer.
    pub transducer_side: String,
    /// Definition of the fracture pressure.
    pub fracture_pressure_definition: String,
    /// Most trials of a quantity and their seed, where trials were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub monte_carlo: Option<crate::uncertain::Trials>,
    /// What the study states of laboratory, customer, items and method; null for what is not given. Empty without a table `[report]`.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub report: BTreeMap<String, Option<String>>,
    /// Every threshold used, by name.
    pub settings: serde_json::Value,
}

/// A file read.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Input {
    /// Path relative to the study folder.
    pub path: String,
    /// SHA-256, lower-case hexadecimal.
    pub sha256: String,
    /// Size.
    pub bytes: u64,
}

/// Outcome of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Outcome {
    /// The frame broke.
    Fractured,
    /// The frame kept a larger diameter, whole.
    Stretched,
    /// The frame came back to its diameter.
    Unchanged,
    /// The balloon burst before anything happened to the frame.
    Burst,
    /// The balloon or line leaked.
    Leak,
    /// The balloon slipped.
    Slip,
    /// The run cannot be used.
    Invalid,
    /// A blank or free run.
    Reference,
}

impl Outcome {
    /// Every outcome, in the order of tables: of the frame, of the balloon, of the recording, and of what is no frame run.
    pub const ALL: [Self; 8] = [
        Self::Fractured,
        Self::Stretched,
        Self::Unchanged,
        Self::Burst,
        Self::Leak,
        Self::Slip,
        Self::Invalid,
        Self::Reference,
    ];

    /// The word used in tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fractured => "fractured",
            Self::Stretched => "stretched",
            Self::Unchanged => "unchanged",
            Self::Burst => "burst",
            Self::Leak => "leak",
            Self::Slip => "slip",
            Self::Invalid => "invalid",
            Self::Reference => "reference",
        }
    }
}

/// A fitted or measured curve: equally long lists, those not applicable empty.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Curve {
    /// Gauge pressure, kPa.
    pub pressure_kpa: Vec<f64>,
    /// Diameter, mm.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub diameter_mm: Vec<f64>,
    /// Volume, mL.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub volume_ml: Vec<f64>,
    /// Ring force, N.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub force_n: Vec<f64>,
}

/// Diameters of a run, mm, and what follows from them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Diameters {
    /// Mean diameter before.
    pub before: Quantity,
    /// Mean diameter on the inflated balloon at the end of the last hold.
    pub loaded: Quantity,
    /// Mean diameter after.
    pub after: Quantity,
    /// Diameter at the first event.
    pub at_event: Quantity,
    /// after − before, mm.
    pub set: Quantity,
    /// (after − before) / before.
    pub set_ratio: Quantity,
    /// (loaded − after) / loaded.
    pub recoil: Quantity,
    /// (loaded − after) / (loaded − before).
    pub recovery: Quantity,
    /// (loaded − before) / before.
    pub expansion: Quantity,
    /// When "after" was measured.
    pub after_measured: String,
    /// A ring that is open after the run has no single inner diameter: its gap and its material.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub open_ring: Option<OpenRing>,
    /// Amplitude of the wave with three lobes of the outline, mm, by stage.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub three_lobe_amplitude: BTreeMap<String, Quantity>,
    /// Every method apart: `caliper`, `plug`, `optical`, `outline_area`, `outline_perimeter`, `outline_circle`, `largest_inscribed`, `photograph_area`, ...;
    /// inside, by stage.
    pub by_method: BTreeMap<String, BTreeMap<String, Quantity>>,
}

/// A broken ring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OpenRing {
    /// Width of the gap, mm: as stated, else the chord of the outline.
    pub gap: Quantity,
    /// Chord of the outline over its gap, mm.
    pub gap_chord: Quantity,
    /// Length of the inner edge that has material, mm.
    pub material_arc: Quantity,
    /// Wall of the frame, mm.
    pub wall: Quantity,
    /// Bore of the opened ring if its neutral line kept its length, mm.
    pub bore_from_neutral_arc: Quantity,
}

/// Geometric areas, mm²: π D²/4 of the mean diameter, never an effective area.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Areas {
    /// Before.
    pub before: Quantity,
    /// On the inflated balloon.
    pub loaded: Quantity,
    /// After.
    pub after: Quantity,
    /// (after / before) − 1.
    pub gain: Quantity,
    /// What the bore might be worth as an orifice, cm², at stages without a flow record: never an effective area.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub surrogate: BTreeMap<String, SurrogateRange>,
}

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

/// All that is said of a run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RunResult {
    /// Name of the run.
    pub run_id: String,
    /// Kind of the run.
    pub kind: RunKind,
    /// Frame.
    pub frame_id: Option<String>,
    /// Balloon.
    pub balloon_id: Option<String>,
    /// Arm.
    pub arm: Option<String>,
    /// Operator.
    pub operator: Option<String>,
    /// Start as written.
    pub started_at: Option<String>,
    /// Recording, relative to the study folder.
    pub trace: Option<String>,
    /// What the eye saw.
    pub inspection: Option<Inspection>,
    /// The inner valve in the ring: then every figure of the frame is that of both together.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inner_valve: Option<String>,
    /// Free words of the runs table.
    pub note: Option<String>,
    /// What it was done with and how.
    #[serde(skip)]
    pub setup: Setup,
    /// What came of it.
    pub outcome: Outcome,
    /// Why, in one sentence.
    pub outcome_reason: String,
    /// Highest pressure reached, kPa: where the run is right-censored if the frame did not break.
    pub highest_pressure: Quantity,
    /// What the operator did.
    pub phases: Vec<Phase>,
    /// What happened, in time order.
    pub events: Vec<Event>,
    /// The line, for blank runs.
    pub line: Option<LineResult>,
    /// The balloon, for free runs.
    pub balloon: Option<BalloonResult>,
    /// The frame, for frame runs.
    pub frame: Option<FrameResult>,
    /// How the pressure fell in the longest holds of a frame run.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub relaxation: Vec<RelaxationResult>,
    /// Diameters, for frame runs.
    pub diameters: Option<Diameters>,
    /// Areas, for frame runs.
    pub areas: Option<Areas>,
    /// Photographs of the opening, in the order of their table.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub photographs: Vec<PhotographResult>,
    /// Free edges of the leaflets, by stage.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub leaflets: Vec<LeafletResult>,
    /// Flow by stage (`before`, `after`).
    pub flow: BTreeMap<String, FlowResult>,
    /// What the uncertainty of a quantity is made of, by where it stands in the run: `diameters.before`.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub budgets: BTreeMap<String, StatedBudget>,
    /// Quantities by trials, where they were asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub monte_carlo: Vec<ByTrials>,
    /// Anything else seen.
    pub observations: Vec<ObservationRow>,
    /// The steps of the protocol set against the run.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub adherence: Vec<StepResult>,
    /// The recording.
    pub recording: RecordingInfo,
    /// Doubts about this run.
    pub findings: Vec<Finding>,
}

/// A value with a confidence interval.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Interval {
    /// Estimate.
    pub value: Option<f64>,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
    /// Unit.
    pub unit: String,
    /// How it was computed.
    pub method: String,
}

/// Statistics of a group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// Name of the group: `A`, `moulded / B-22`.
    pub name: String,
    /// What the runs are grouped by: `arm`, `construction, balloon`.
    pub by: String,
    /// The runs that count, by name, in the order of the study.
    pub runs: Vec<String>,
    /// Frame runs that count.
    pub n: usize,
    /// Fractured among them.
    pub fractured: usize,
    /// Censored among them: no fracture up to their highest pressure.
    pub censored: usize,
    /// Share fractured, Clopper-Pearson interval.
    pub proportion: Interval,
    /// Fracture pressures of the fractured.
    pub fracture_pressure: PressureStatistics,
    /// Weibull with right-censoring.
    pub weibull: Option<WeibullResult>,
    /// Product-limit estimate.
    pub kaplan_meier: KaplanMeierResult,
    /// Every distribution fitted to the strengths.
    pub strength: Vec<StrengthResult>,
    /// Points of the probability plots.
    pub strength_points: Vec<StrengthPoint>,
    /// How often each cause ended runs, where the balloon ended some.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incidence: Option<IncidenceResult>,
    /// Normal tolerance limits, for arms without censoring.
    pub tolerance: Vec<ToleranceResult>,
    /// Area gain of the runs.
    pub area_gain: Option<Interval>,
    /// Diameter after.
    pub diameter_after: Option<Interval>,
    /// Measured values.
    pub values: Vec<ValueResult>,
    /// Fracture against oversize.
    pub dose: Vec<DoseResult>,
    /// The staircase test, where the study declares one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub up_and_down: Option<StaircaseResult>,
    /// What else was seen of the runs.
    pub observations: Vec<ObservationSummary>,
    /// What to keep in mind.
    pub remarks: Vec<String>,
}

/// Mean and spread of fracture pressures, kPa.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PressureStatistics {
    /// Number of pressures.
    pub n: usize,
    /// Mean, its standard error as `u`.
    pub mean: Quantity,
    /// Sample standard deviation.
    pub sd: Quantity,
    /// Smallest, kPa.
    pub min_kpa: Option<f64>,
    /// Largest, kPa.
    pub max_kpa: Option<f64>,
}

/// A Weibull fit with right-censoring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeibullResult {
    /// Shape.
    pub shape: Interval,
    /// Scale, kPa.
    pub scale: Interval,
    /// Pressure at which a tenth has fractured, kPa.
    pub b10: Interval,
    /// Log-likelihood.
    pub log_likelihood: f64,
    /// Failures used.
    pub failures: usize,
}

/// A product-limit curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct KaplanMeierResult {
    /// Pressures of fracture, kPa.
    pub pressure_kpa: Vec<f64>,
    /// Share not yet fractured just after each.
    pub surviving: Vec<f64>,
    /// Lower limit of each share, log(-log); null where it cannot be had.
    pub lower: Vec<Option<f64>>,
    /// Upper limit.
    pub upper: Vec<Option<f64>>,
    /// First pressure at which half or fewer survive, kPa.
    pub median: Interval,
}

/// A one- or two-sided normal tolerance limit, kPa.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ToleranceResult {
    /// Confidence level.
    pub confidence: f64,
    /// Share of the population covered.
    pub coverage: f64,
    /// 1 or 2.
    pub sides: u8,
    /// Factor on the standard deviation.
    pub k: f64,
    /// Lower limit, kPa.
    pub lower: Option<f64>,
    /// Upper limit, kPa.
    pub upper: Option<f64>,
    /// Unit of the limits.
    pub unit: String,
}

/// Key of a method in [`Diameters::by_method`].
impl GaugeMethod {
    /// The word used in tables and keys.
    pub fn word(self) -> &'static str {
        match self {
            Self::Caliper => "caliper",
            Self::Plug => "plug",
            Self::Optical => "optical",
        }
    }
}
