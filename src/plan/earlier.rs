//! What of `results.json` a plan of steps needs.

use crate::recording::{Finding, Place};
use serde::Deserialize;
use serde_json::Value;

/// A quantity.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Stated {
    pub value: Option<f64>,
    pub u: Option<f64>,
    pub reason: Option<String>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(default)]
#[derive(Default)]
pub(super) struct Curve {
    pub pressure_kpa: Vec<Option<f64>>,
    pub diameter_mm: Vec<Option<f64>>,
    pub volume_ml: Vec<Option<f64>>,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct TableRow {
    pub pressure_kpa: f64,
    pub diameter: Stated,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Balloon {
    pub source: String,
    pub nominal_pressure_kpa: Option<f64>,
    pub rated_burst_pressure_kpa: Option<f64>,
    pub unfolded_diameter: Stated,
    pub table: Vec<TableRow>,
    pub curve: Curve,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Line {
    pub compliance: Stated,
    pub trapped_air: Stated,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Frame {
    pub curve: Curve,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Event {
    pub kind: String,
    pub t_s: Option<f64>,
    pub pressure: Stated,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Run {
    #[serde(rename = "run_id")]
    pub id: String,
    pub kind: String,
    pub balloon_id: Option<String>,
    pub outcome: String,
    pub highest_pressure: Stated,
    pub events: Vec<Event>,
    pub balloon: Option<Balloon>,
    pub line: Option<Line>,
    pub frame: Option<Frame>,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Study {
    pub title: String,
    pub ambient_pressure_kpa: f64,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Group {
    pub name: String,
    pub runs: Vec<String>,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Earlier {
    pub study: Study,
    pub runs: Vec<Run>,
    pub groups: Vec<Group>,
}

impl Earlier {
    /// Name of the group a run is in, as the study groups its runs.
    pub(super) fn group_of(&self, run: &Run) -> &str {
        let group = self.groups.iter().find(|g| g.runs.contains(&run.id));
        group.map_or("no group", |group| group.name.as_str())
    }

    /// What is needed of the results.
    pub(super) fn of(results: &Value, shown_as: &str) -> Result<Self, Finding> {
        Self::deserialize(results).map_err(|error| {
            Finding::error(
                "results-incomplete",
                format!("found results without what a plan needs: {error}; expected those of this version"),
            )
            .at(Place::file(shown_as))
            .help("analyse the study again")
        })
    }
}
