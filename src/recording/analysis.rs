//! The results as `results.json` holds them. Field names are the file contract; every quantity carries unit and uncertainty.

use super::{
    BalloonRating, Comparison, Finding, GaugeStudy, Group, GroupAdherence, MethodAgreement,
    RunResult, Verdict,
};
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
    /// What is called the fracture pressure of a run, in `runs.csv`, groups and figures.
    pub definition: super::PressureDefinition,
    /// The same in a sentence.
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
