//! Body surface and body mass index of a hypothetical patient.

use crate::rig::BodySurface;

/// A formula of body surface, m², from height in cm and weight in kg.
#[derive(Debug, Clone, Copy)]
pub struct BodySurfaceFormula {
    /// Which.
    pub formula: BodySurface,
    /// Name.
    pub name: &'static str,
    /// The equation as text.
    pub equation: &'static str,
    /// Its source.
    pub source: &'static str,
    area: fn(f64, f64) -> f64,
}

/// Every formula. A new one is a line here and a word in `src/rig/patient.rs`.
pub const BODY_SURFACES: &[BodySurfaceFormula] = &[
    BodySurfaceFormula {
        formula: BodySurface::DuBois,
        name: "Du Bois",
        equation: "BSA = 0.007184 W^0.425 H^0.725",
        source: "Du Bois and Du Bois (1916), Arch Intern Med 17:863",
        area: |height, weight| 0.007_184 * weight.powf(0.425) * height.powf(0.725),
    },
    BodySurfaceFormula {
        formula: BodySurface::Mosteller,
        name: "Mosteller",
        equation: "BSA = √(H W/3600)",
        source: "Mosteller (1987), N Engl J Med 317:1098",
        area: |height, weight| (height * weight / 3600.0).sqrt(),
    },
];

impl BodySurfaceFormula {
    /// Body surface, m².
    pub fn area_m2(&self, height_cm: f64, weight_kg: f64) -> f64 {
        (self.area)(height_cm, weight_kg)
    }
}

/// The formula asked for.
pub fn body_surface(formula: BodySurface) -> Option<&'static BodySurfaceFormula> {
    BODY_SURFACES.iter().find(|f| f.formula == formula)
}

/// Body mass index, kg/m².
pub fn body_mass_index(height_cm: f64, weight_kg: f64) -> f64 {
    let height_m = height_cm / 100.0;
    weight_kg / (height_m * height_m)
}
