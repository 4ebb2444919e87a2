//! What a flow record, and an area on a bench, come to.

use crate::uncertain::Quantity;
use serde::Serialize;

/// What stands at every figure that is set against a body.
pub const HYPOTHETICAL: &str = "hypothetical patient; a bench figure, not advice for a patient";

/// Flow figures at one stage.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FlowResult {
    /// Effective orifice area, cm².
    pub effective_orifice_area: Quantity,
    /// Mean pressure difference over the positive-pressure period of forward flow, mmHg.
    pub mean_gradient: Quantity,
    /// Root-mean-square flow over the same period, mL/s.
    pub rms_flow: Quantity,
    /// Effective over geometric area.
    pub discharge_coefficient: Quantity,
    /// Beats averaged.
    pub beats: usize,
    /// Forward stroke volume, mL, mean of the whole beats.
    pub stroke_volume: Quantity,
    /// Volume back until the valve is closed, mL.
    pub closing_volume: Quantity,
    /// Volume back through the closed valve, mL.
    pub leakage_volume: Quantity,
    /// (closing + leakage) / forward stroke volume, %.
    pub regurgitant_fraction: Quantity,
    /// Gorlin's area of the same record, cm²: a comparison.
    pub gorlin: Quantity,
    /// Hakki's area of the same record, cm²: a comparison.
    pub hakki: Quantity,
    /// Energy-loss coefficient, cm², where the diameter of the tube behind the valve is declared.
    pub energy_loss: Quantity,
    /// The area against the body of a hypothetical patient, where the study supposes one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hypothetical_patient: Option<IndexedResult>,
}

/// An effective area against the body of a hypothetical patient.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IndexedResult {
    /// [`HYPOTHETICAL`].
    pub note: &'static str,
    /// Height supposed, cm.
    pub height_cm: f64,
    /// Weight supposed, kg.
    pub weight_kg: f64,
    /// Body mass index, kg/m².
    pub body_mass_index: Quantity,
    /// Body surface, m²; its method names the formula.
    pub body_surface: Quantity,
    /// Effective orifice area over body surface, cm²/m².
    pub indexed_area: Quantity,
    /// Energy-loss coefficient over body surface, cm²/m².
    pub energy_loss_index: Quantity,
    /// What the area is called by the cut-offs of each class of body mass.
    pub mismatch: Vec<MismatchRow>,
}

/// A class of body mass with its cut-offs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MismatchRow {
    /// Class of body mass.
    pub body_mass: &'static str,
    /// Whether the hypothetical patient is in this class.
    pub applies: bool,
    /// Severe up to and including this, cm²/m².
    pub severe_at_most: f64,
    /// Moderate above that, up to and including this, cm²/m².
    pub moderate_at_most: f64,
    /// none, moderate, severe, or between two where ± 2 u crosses a cut-off; null without an area.
    pub mismatch: Option<String>,
}

/// What a bore might be worth as an orifice, from the range of assumed discharge coefficients: a surrogate, never an effective area.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SurrogateRange {
    /// At the lowest coefficient, cm².
    pub low: Quantity,
    /// At the highest, cm².
    pub high: Quantity,
}
