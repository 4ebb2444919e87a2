//! All that is said of one run, as `results.json` holds it.

use super::{
    Areas, BalloonResult, ByTrials, Diameters, Event, EventKind, Finding, FlowResult, FrameResult,
    Inspection, LeafletResult, LineResult, ObservationRow, Phase, PhotographResult,
    PressureDefinition, RecordingInfo, RelaxationResult, RunKind, Setup, StepResult,
};
use crate::uncertain::{Quantity, StatedBudget};
use serde::Serialize;
use std::collections::BTreeMap;

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
    /// Why there is no such hold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub relaxation_reason: Option<String>,
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

impl RunResult {
    /// Puts down what uncertainties are made of, by where each quantity stands in the run.
    pub fn add_budgets(&mut self, budgets: &[(&str, StatedBudget)]) {
        let named = budgets
            .iter()
            .map(|(path, budget)| ((*path).to_owned(), budget.clone()));
        self.budgets.extend(named);
    }

    /// The first fracture: the earliest, one without a time last.
    pub fn first_fracture(&self) -> Option<&Event> {
        let at = |event: &Event| event.t_s.unwrap_or(f64::INFINITY);
        let fractures = self
            .events
            .iter()
            .filter(|event| event.kind == EventKind::Fracture);
        fractures.min_by(|a, b| at(a).total_cmp(&at(b)))
    }

    /// The first run of the same frame that stands before this one and broke it; `runs` in the order of their table.
    pub fn broken_before<'r>(&self, runs: impl IntoIterator<Item = &'r Self>) -> Option<&'r Self> {
        let earlier = runs.into_iter().take_while(|run| run.run_id != self.run_id);
        let mut broken = earlier.filter(|run| {
            run.frame_id.is_some()
                && run.frame_id == self.frame_id
                && run.outcome == Outcome::Fractured
        });
        broken.next()
    }

    /// Gauge pressure of the first fracture by a definition, kPa, and the upper end where that knows an interval only. `None` where nothing
    /// broke or the definition says nothing of it.
    pub fn fracture_pressure(
        &self,
        definition: PressureDefinition,
    ) -> Option<(&Quantity, Option<&Quantity>)> {
        let event = self.first_fracture()?;
        if definition == PressureDefinition::Onset {
            return Some((&event.pressure, None));
        }
        let by = event
            .pressures
            .iter()
            .find(|p| p.definition == definition)?;
        Some((&by.pressure, by.at_most.as_ref()))
    }
}
