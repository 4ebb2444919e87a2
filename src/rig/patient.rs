//! The `[hypothetical_patient]` table of a study file: the body that an area of the bench is set against.

use super::document::Section;
use super::flow::AORTA_MM;

/// Heights taken, cm: from a small child to the tallest people known.
const HEIGHT_CM: (f64, f64) = (50.0, 250.0);
/// Weights taken, kg.
const WEIGHT_KG: (f64, f64) = (2.0, 400.0);

/// A formula of body surface.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum BodySurface {
    /// Du Bois and Du Bois.
    #[default]
    DuBois,
    /// Mosteller.
    Mosteller,
}

/// Words of the study file.
const FORMULAS: &[(&str, BodySurface)] = &[
    ("du_bois", BodySurface::DuBois),
    ("mosteller", BodySurface::Mosteller),
];

/// A patient who does not exist: nobody's data, and no advice for anybody.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HypotheticalPatient {
    /// Height, cm.
    pub height_cm: f64,
    /// Weight, kg.
    pub weight_kg: f64,
    /// Formula of the body surface.
    pub bsa_formula: BodySurface,
    /// Diameter of the aorta, mm, where one is supposed.
    pub aorta_diameter_mm: Option<f64>,
}

/// Reads the table; `None` where the file has none.
pub(super) fn patient(section: Section<'_, '_>) -> Option<HypotheticalPatient> {
    if !section.exists() {
        return None;
    }
    for key in ["height_cm", "weight_kg"] {
        if section.get(key).is_none() {
            section.doc.error(
                &section.span,
                "toml-missing-key",
                format!("{} has no `{key}`", section.name),
                Some("a body surface needs height_cm and weight_kg".to_owned()),
            );
        }
    }
    let height = section.within("height_cm", HEIGHT_CM, "cm");
    let weight = section.within("weight_kg", WEIGHT_KG, "kg");
    let bsa_formula = section.word("bsa_formula", FORMULAS).unwrap_or_default();
    let aorta_diameter_mm = section.within("aorta_diameter_mm", AORTA_MM, "mm");
    section.finish();
    Some(HypotheticalPatient {
        height_cm: height?,
        weight_kg: weight?,
        bsa_formula,
        aorta_diameter_mm,
    })
}
