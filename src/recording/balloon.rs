//! What blank and free runs say: the line and the balloon.

use super::{ByTrials, Curve};
use crate::uncertain::{Quantity, StatedBudget};
use serde::Serialize;

/// The line of the rig: `V(p) = C p + V_air p / (p + p_ambient)`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineResult {
    /// Elastic compliance, mL/kPa.
    pub compliance: Quantity,
    /// Trapped air at ambient pressure, mL.
    pub trapped_air: Quantity,
    /// Volume moved before the pressure rises, mL.
    pub dead_volume: Quantity,
    /// How full of air the line is, in words.
    pub air: String,
    /// Part of the volume taken up that is air, from 0 to the pressure its method names.
    pub air_share: Quantity,
    /// The way down.
    #[serde(flatten)]
    pub down: LineDown,
    /// Standard deviation of the residuals, mL.
    pub residual_ml: f64,
    /// What the uncertainties of compliance and air are made of, for the budgets of the run.
    #[serde(skip)]
    pub budgets: Vec<(&'static str, StatedBudget)>,
    /// The same by trials, where they were asked for.
    #[serde(skip)]
    pub by_trials: Vec<ByTrials>,
    /// Fitted curve.
    pub curve: Curve,
}

/// The line on the way down.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineDown {
    /// Largest distance between the way up and the way down, mL.
    pub hysteresis: Quantity,
    /// Elastic compliance of the way down, mL/kPa, where it stands off the way up.
    #[serde(rename = "compliance_down")]
    pub compliance: Quantity,
    /// Trapped air of the way down, mL, where it stands off the way up.
    #[serde(rename = "trapped_air_down")]
    pub trapped_air: Quantity,
}

/// A model that was tried on the diameters of a balloon.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModelRank {
    /// Name of the model.
    pub model: String,
    /// Corrected Akaike criterion above that of the best model, 1; 0 for the best. Null where not ranked, or infinitely far behind a model
    /// that goes through every point.
    pub delta_aicc: Option<f64>,
    /// Akaike weight: probability of being the best of those ranked, 0 to 1. Null where not ranked.
    pub weight: Option<f64>,
    /// Why the model was not fitted or not ranked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A row of the compliance table of a balloon.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GrowthRow {
    /// Gauge pressure, kPa.
    pub pressure_kpa: f64,
    /// Diameter, mm.
    pub diameter: Quantity,
    /// Growth since the nominal pressure over the diameter there.
    pub growth: Quantity,
    /// True above the rated burst pressure.
    pub beyond_rated: bool,
}

/// The free balloon.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BalloonResult {
    /// Name of the model that fits the diameters.
    pub model: String,
    /// Every model tried, the best first; empty where there are no diameters.
    pub models: Vec<ModelRank>,
    /// Where the diameters came from (`chart`, `optical`, `volume`).
    pub source: String,
    /// Diameter of the unfolded balloon at no pressure, mm.
    pub unfolded_diameter: Quantity,
    /// Nominal pressure as labelled, kPa.
    pub nominal_pressure_kpa: Option<f64>,
    /// Rated burst pressure as labelled, kPa.
    pub rated_burst_pressure_kpa: Option<f64>,
    /// Diameter at the nominal pressure, mm.
    pub diameter_at_nominal: Quantity,
    /// Diameter at the rated burst pressure, mm.
    pub diameter_at_rated: Quantity,
    /// Growth of the diameter with pressure between nominal and rated, mm/kPa.
    pub compliance: Quantity,
    /// The same over the nominal diameter, %/atm.
    pub growth_per_atm: Quantity,
    /// What a balloon of that growth is called: `non-compliant`, `semi-compliant` or `compliant`.
    pub kind: String,
    /// What the uncertainties of these are made of, for the budgets of the run.
    #[serde(skip)]
    pub budgets: Vec<(&'static str, StatedBudget)>,
    /// The same by trials, where they were asked for.
    #[serde(skip)]
    pub by_trials: Vec<ByTrials>,
    /// Diameters from nominal pressure on.
    pub table: Vec<GrowthRow>,
    /// Fitted curve: diameter and volume at pressure.
    pub curve: Curve,
}

/// What burst tests of a model of balloon say of its rated burst pressure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BalloonRating {
    /// Labelled diameter × length.
    pub name: String,
    /// Free runs that ended in a burst.
    pub bursts: usize,
    /// Mean burst pressure, kPa.
    pub mean: Quantity,
    /// Standard deviation of the burst pressures, kPa.
    pub sd_kpa: Option<f64>,
    /// Factor of the one-sided tolerance limit.
    pub k: Option<f64>,
    /// Part of the balloons that hold the limit ...
    pub coverage: f64,
    /// ... with this confidence.
    pub confidence: f64,
    /// mean − k s, kPa.
    pub limit_kpa: Option<f64>,
    /// The limit, rounded down to a whole step, atm.
    pub rated_atm: Option<f64>,
    /// Rated burst pressure as labelled, where all tested balloons have the same, atm.
    pub labelled_atm: Option<f64>,
    /// Why there is no limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// What to keep in mind.
    pub remarks: Vec<String>,
}
