//! Orifice areas: what a bore and a flow are worth.
//!
//! π D²/4 is geometric. An effective area comes from flow over the positive-pressure period ([`measure_flow`]), or is a surrogate
//! that names its assumed discharge coefficient. Every formula is one file and one line in [`FORMULAS`]; it states its equation,
//! units, valid range and source, and refuses inputs outside.

mod body;
mod closed_valve;
mod comparisons;
mod cycle;
mod discharge;
mod effective;
mod energy_loss;
mod flow_period;
mod flow_record;
mod formula;
mod geometric;
mod gorlin;
mod gradient;
mod hakki;
mod hypothetical;
mod indexed;
mod mismatch;
mod regurgitation;
mod surrogate;

pub use body::{BODY_SURFACES, BodySurfaceFormula, body_mass_index, body_surface};
pub use comparisons::{discharge_coefficient_of, energy_loss_of, gorlin_of, hakki_of};
pub use cycle::Cycle;
pub use discharge::DischargeCoefficient;
pub use effective::{EOA_CONSTANT, EffectiveArea};
pub use energy_loss::EnergyLoss;
pub use flow_period::{FlowError, FlowPeriod, positive_pressure_periods};
pub use flow_record::{FlowInstruments, FlowMeasure, measure_flow};
pub use formula::{AreaKind, OrificeError, OrificeFormula, Symbol};
pub use geometric::GeometricArea;
pub use gorlin::{GORLIN_AORTIC, GORLIN_MITRAL, GorlinAortic, GorlinMitral};
pub use gradient::{BERNOULLI, jet_gradient, mean_jet_gradient};
pub use hakki::Hakki;
pub use hypothetical::indexed_of;
pub use indexed::{EnergyLossIndex, IndexedArea};
pub use mismatch::{CUT_OFFS, CutOffs, OBESE_BMI, class_of};
pub use regurgitation::{Regurgitation, measure_regurgitation};
pub use surrogate::{DISCHARGE_RANGE, DischargeSurrogate, surrogate_range_of};

/// Every formula.
pub const FORMULAS: &[&dyn OrificeFormula] = &[
    &EffectiveArea,
    &GorlinAortic,
    &GorlinMitral,
    &Hakki,
    &GeometricArea,
    &DischargeSurrogate,
    &DischargeCoefficient,
    &EnergyLoss,
    &IndexedArea,
    &EnergyLossIndex,
];

/// The formula of a name.
pub fn formula(name: &str) -> Option<&'static dyn OrificeFormula> {
    FORMULAS
        .iter()
        .copied()
        .find(|formula| formula.name() == name)
}
