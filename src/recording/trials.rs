//! A quantity by trials beside its propagated standard uncertainty.

use crate::uncertain::{Input, MonteCarlo, Quantity, Trials, monte_carlo_of};
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

    /// Trials of several quantities that one model gives from the same draws of inputs without anything in common, each beside what propagation
    /// says; those without an uncertainty have none. `f` gives nothing where a draw makes no sense.
    pub fn beside<const N: usize>(
        quantities: [(&str, Option<&Quantity>); N],
        f: &dyn Fn(&[f64]) -> Option<[f64; N]>,
        inputs: &[Input],
        label: &str,
        trials: Trials,
    ) -> Vec<Self> {
        let known = quantities.map(|(name, by)| (name, by.filter(|by| by.pair().is_some())));
        let wanted = known.map(|(_, by)| by.is_some());
        let f = |z: &[f64]| f(z).unwrap_or([f64::NAN; N]);
        let said = monte_carlo_of(&f, wanted, inputs, label, trials);
        let each = known.into_iter().zip(said);
        each.filter_map(|((name, by), said)| Some(Self::new(name, by?, said?)))
            .collect()
    }
}
