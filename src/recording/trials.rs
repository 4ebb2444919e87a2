//! A quantity by trials beside its propagated standard uncertainty.

use crate::uncertain::{MonteCarlo, Quantity};
use serde::Serialize;

/// Standard uncertainties by propagation and by trials that differ by more than this share are said to differ.
pub const DIFFER_SHARE: f64 = 0.05;

/// What trials say of a quantity (JCGM 101), beside what propagation says (JCGM 100).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ByTrials {
    /// Where the quantity stands in the run: `diameters.set`.
    pub quantity: String,
    /// Unit.
    pub unit: String,
    /// The value, in `unit`.
    pub value: Option<f64>,
    /// Its standard uncertainty by propagation, in `unit`.
    pub u: Option<f64>,
    /// The trials.
    #[serde(flatten)]
    pub trials: MonteCarlo,
    /// Whether the two standard uncertainties differ by more than [`DIFFER_SHARE`]: then the intervals by trials stand.
    pub differs: bool,
}

impl ByTrials {
    /// Both, compared.
    pub fn new(quantity: impl Into<String>, propagated: &Quantity, trials: MonteCarlo) -> Self {
        let differs = propagated
            .u
            .is_some_and(|u| (trials.sd / u - 1.0).abs() > DIFFER_SHARE);
        Self {
            quantity: quantity.into(),
            unit: propagated.unit.clone(),
            value: propagated.value,
            u: propagated.u,
            trials,
            differs,
        }
    }
}
