//! The frame under load, as results hold it.

use super::{Curve, ModelRank};
use crate::uncertain::{Quantity, StatedBudget};
use serde::Serialize;

/// The frame under load.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FrameResult {
    /// Construction class as listed.
    pub construction: Option<String>,
    /// What the uncertainties of its figures are made of, for the budgets of the run.
    #[serde(skip)]
    pub budgets: Vec<(&'static str, StatedBudget)>,
    /// Highest pressure of the run, kPa.
    pub peak_pressure: Quantity,
    /// Highest pressure as a multiple of the balloon's rated burst pressure.
    pub peak_over_rated: Quantity,
    /// Highest load on the frame at any rest, kPa: pressure less what the free balloon needs at that diameter.
    pub peak_load: Quantity,
    /// Wall tension at that rest, N/mm.
    pub peak_tension: Quantity,
    /// Ring force at that rest, N.
    pub peak_force: Quantity,
    /// Load just before the first fracture, kPa.
    pub fracture_load: Quantity,
    /// Wall tension just before the first fracture, N/mm.
    pub fracture_tension: Quantity,
    /// Diametral compliance between 20 and 60 % of the highest load before yield or fracture, mm/kPa.
    pub compliance: Quantity,
    /// Modulus of a solid ring of the listed sizes that would open as the frame did, MPa.
    pub equivalent_modulus: Quantity,
    /// Load at which the frame begins to stretch for good, kPa.
    pub yield_load: Quantity,
    /// Diameter at that point, mm.
    pub yield_diameter: Quantity,
    /// Yield by offset: load at which the frame has opened by a stated share of its diameter more than the elastic line says, kPa.
    pub offset_yield_load: Quantity,
    /// Diameter at that point, mm.
    pub offset_yield_diameter: Quantity,
    /// Rise of the load with the diameter after yield, kPa/mm.
    pub hardening: Quantity,
    /// The same over the rise before yield, 1.
    pub hardening_ratio: Quantity,
    /// Work done on the ring up to the first event, mJ.
    pub work: Quantity,
    /// Elastic energy of the ring at the end of that, mJ.
    pub energy_stored: Quantity,
    /// Energy that line and trapped air gave up at the first fracture, mJ.
    pub energy_released: Quantity,
    /// Work that went in from the first stroke on and did not come back by the time the deflation had passed the pressure of its beginning, mJ.
    pub loop_work: Quantity,
    /// Load on the frame at the first rest after the first fracture, kPa.
    pub residual_load: Quantity,
    /// The same over the load at the last rest before, 1.
    pub residual_share: Quantity,
    /// Diameter at the first rest after the first fracture, mm.
    pub residual_diameter: Quantity,
    /// Balloon at the highest pressure less the true inner diameter, mm.
    pub oversize_true_id: Quantity,
    /// The same over the true inner diameter.
    pub oversize_true_id_ratio: Quantity,
    /// Balloon at the highest pressure less the stent inner diameter, mm.
    pub oversize_stent_id: Quantity,
    /// The same over the stent inner diameter.
    pub oversize_stent_id_ratio: Quantity,
    /// How the diameter during the run was had.
    pub diameter_source: String,
    /// Load curve: load on the frame (kPa) against diameter, balloon volume and ring force.
    pub curve: Curve,
    /// Time of each point of the curve, s.
    #[serde(skip)]
    pub curve_time_s: Vec<f64>,
    /// Rated burst pressure of the balloon as listed, kPa.
    #[serde(skip)]
    pub balloon_rated_kpa: Option<f64>,
}

impl TimeConstant {
    /// Confidence of the interval of a time constant.
    pub const CONFIDENCE: f64 = 0.95;
}

/// How the pressure fell in a hold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RelaxationResult {
    /// Start of the window the models were fitted to, s.
    pub t_start_s: f64,
    /// Its end, s.
    pub t_end_s: f64,
    /// Points in it: means of equal blocks of samples.
    pub points: usize,
    /// Name of the model that fits best.
    pub model: String,
    /// Every model, the best first.
    pub models: Vec<ModelRank>,
    /// Pressure at the start of the window, kPa.
    pub p_start: Quantity,
    /// Pressure in the end, kPa, where the model has a floor.
    pub p_inf: Quantity,
    /// Time constants of the model.
    pub time_constants: Vec<TimeConstant>,
    /// Fall over the window, over the pressure at its start.
    pub share_relaxed: Quantity,
    /// Correlation of neighbouring residuals of the best model, 1.
    pub residual_correlation: Option<f64>,
}

/// A time constant of a model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimeConstant {
    /// Its name in the model.
    pub name: String,
    /// Time, s.
    pub time: Quantity,
    /// Lower end of its interval ([`Self::CONFIDENCE`]), s; none where the hold does not tell it from a shorter one.
    pub low_s: Option<f64>,
    /// Upper end, s; none where the hold does not tell it from any longer one.
    pub high_s: Option<f64>,
}
