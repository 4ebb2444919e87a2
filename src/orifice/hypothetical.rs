//! An effective area against the body of a hypothetical patient: a bench figure, no advice for anybody.

use super::body::{body_mass_index, body_surface};
use super::formula::OrificeFormula;
use super::indexed::{EnergyLossIndex, IndexedArea};
use super::mismatch::{CUT_OFFS, class_of};
use crate::recording::{HYPOTHETICAL, IndexedResult, MismatchRow};
use crate::rig::HypotheticalPatient;
use crate::uncertain::Quantity;

/// An effective area (cm²) and its energy-loss coefficient (cm²) against the body of a hypothetical patient: indexed by the surface of that body,
/// which is supposed and so without an uncertainty, beside the cut-offs of both classes of body mass. Each formula names its source.
pub fn indexed_of(
    patient: &HypotheticalPatient,
    area: &Quantity,
    energy_loss: &Quantity,
) -> IndexedResult {
    const SUPPOSED: &str = "height and weight are supposed, not measured";
    let bmi = body_mass_index(patient.height_cm, patient.weight_kg);
    let formula = body_surface(patient.bsa_formula);
    let surface = formula.map(|f| f.area_m2(patient.height_cm, patient.weight_kg));
    let over_surface = |formula: &dyn OrificeFormula, area: &Quantity| match (area.pair(), surface)
    {
        (Some((value, u)), Some(surface)) => formula.evaluate(&[value, surface], &[u, 0.0]),
        _ => Quantity::missing(
            formula.unit(),
            area.reason
                .clone()
                .unwrap_or_else(|| "there is no area to index".to_owned()),
        ),
    };
    let indexed_area = over_surface(&IndexedArea, area);
    let class = class_of(bmi);
    IndexedResult {
        note: HYPOTHETICAL,
        height_cm: patient.height_cm,
        weight_kg: patient.weight_kg,
        body_mass_index: Quantity::without_u(bmi, "kg/m2", "W/H²", SUPPOSED),
        body_surface: match (formula, surface) {
            (Some(f), Some(surface)) => Quantity::without_u(
                surface,
                "m2",
                format!("{}: {}, {}", f.name, f.equation, f.source),
                SUPPOSED,
            ),
            _ => Quantity::missing("m2", "no formula of body surface"),
        },
        energy_loss_index: over_surface(&EnergyLossIndex, energy_loss),
        mismatch: CUT_OFFS
            .iter()
            .enumerate()
            .map(|(i, cut_offs)| MismatchRow {
                body_mass: cut_offs.body_mass,
                applies: i == class,
                severe_at_most: cut_offs.severe_at_most,
                moderate_at_most: cut_offs.moderate_at_most,
                mismatch: cut_offs.said(&indexed_area),
            })
            .collect(),
        indexed_area,
    }
}
