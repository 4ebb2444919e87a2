//! Made-up flow figures, and a ring that is open.

use super::q;
use hooptrace::recording::*;
use hooptrace::uncertain::Quantity;
use std::collections::BTreeMap;

/// Every figure at one stage.
pub fn flow(eoa: f64) -> FlowResult {
    FlowResult {
        effective_orifice_area: q(eoa, 0.06, "cm2"),
        mean_gradient: q(14.2 / eoa, 0.9, "mmHg"),
        rms_flow: q(271.0, 8.0, "mL/s"),
        discharge_coefficient: q(0.52, 0.03, "1"),
        beats: 10,
        stroke_volume: q(71.4, 0.4, "mL"),
        closing_volume: q(2.1, 0.2, "mL"),
        leakage_volume: q(3.3, 0.3, "mL"),
        regurgitant_fraction: q(7.6, 0.4, "%"),
        gorlin: q(0.97 * eoa, 0.06, "cm2"),
        hakki: q(0.99 * eoa, 0.06, "cm2"),
        energy_loss: Quantity::missing("cm2", "no aorta_diameter_mm is declared"),
        hypothetical_patient: Some(hypothetical(eoa)),
    }
}

/// What the bore before might be worth.
pub fn surrogate() -> BTreeMap<String, SurrogateRange> {
    let range = SurrogateRange {
        low: q(1.71, 0.01, "cm2"),
        high: q(2.64, 0.01, "cm2"),
    };
    BTreeMap::from([("before".to_owned(), range)])
}

/// An area against a body of 165 cm and 95 kg.
fn hypothetical(eoa: f64) -> IndexedResult {
    let row = |body_mass, applies, severe_at_most, moderate_at_most| MismatchRow {
        body_mass,
        applies,
        severe_at_most,
        moderate_at_most,
        mismatch: Some("between moderate and none".to_owned()),
    };
    IndexedResult {
        note: HYPOTHETICAL,
        height_cm: 165.0,
        weight_kg: 95.0,
        body_mass_index: q(34.894, f64::NAN, "kg/m2"),
        body_surface: q(2.016_391, f64::NAN, "m2"),
        indexed_area: q(eoa / 2.016_391, 0.03, "cm2/m2"),
        energy_loss_index: Quantity::missing("cm2/m2", "no aorta_diameter_mm is declared"),
        mismatch: vec![
            row("BMI < 30 kg/m²", false, 0.65, 0.85),
            row("BMI ≥ 30 kg/m²", true, 0.55, 0.70),
        ],
    }
}

/// A ring with a gap of 6 mm.
pub fn open_ring() -> OpenRing {
    OpenRing {
        gap: q(6.0, 0.2, "mm"),
        gap_chord: q(6.1, 0.1, "mm"),
        material_arc: Quantity::missing("mm", "no outline after shows the gap"),
        wall: q(1.0, 0.05, "mm"),
        bore_from_neutral_arc: q(20.93, 0.07, "mm"),
    }
}

pub fn areas(after: f64) -> Areas {
    let area = |d: f64| q(std::f64::consts::PI * d * d / 4.0, 1.4, "mm2");
    Areas {
        before: area(19.02),
        loaded: area(after + 0.42),
        after: area(after),
        gain: q((after / 19.02).powi(2) - 1.0, 0.0071, "1"),
        surrogate: surrogate(),
    }
}

/// Two fits through an outline after.
pub fn outline_fits() -> BTreeMap<String, BTreeMap<String, OutlineFit>> {
    let fit = |largest: f64, smallest: Option<f64>, rms: f64| OutlineFit {
        largest_diameter: q(largest, 0.012, "mm"),
        smallest_diameter: smallest.map(|d| q(d, 0.013, "mm")),
        rms_residual: Quantity::without_u(rms, "mm", "made up", "a scatter"),
    };
    let fits = BTreeMap::from([
        ("circle_hyper".to_owned(), fit(21.4, None, 0.31)),
        (
            "ellipse_geometric".to_owned(),
            fit(21.83, Some(20.98), 0.045),
        ),
    ]);
    BTreeMap::from([("after".to_owned(), fits)])
}
