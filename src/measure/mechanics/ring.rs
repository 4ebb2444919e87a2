//! Tension, force, stress and widening of a ring under inner pressure.

use std::f64::consts::PI;

/// Laplace tension of a cylinder, T = p D/2, N/mm from kPa and mm (1 kPa mm = 1e-3 N/mm). Sizes are compared by it: a larger
/// balloon needs less pressure for the same pull.
pub fn tension(pressure_kpa: f64, diameter_mm: f64) -> f64 {
    pressure_kpa * diameter_mm / 2.0 * 1e-3
}

/// Hoop force carried by a ring of loaded length L, N = T L, N from N/mm and mm. The loaded length is at least the height of the
/// band, because the balloon's shoulders pull too; so a stress from it is a lower bound.
pub fn ring_force(tension_n_per_mm: f64, loaded_length_mm: f64) -> f64 {
    tension_n_per_mm * loaded_length_mm
}

/// Hoop stress of a thin ring, σ = p r/t, MPa from MPa and mm.
pub fn thin_ring_stress(pressure_mpa: f64, radius_mm: f64, wall_mm: f64) -> f64 {
    pressure_mpa * radius_mm / wall_mm
}

/// Widening of the diameter of a thin ring, ΔD = 2 p r²/(E t), mm from MPa and mm.
pub fn thin_ring_growth(pressure_mpa: f64, radius_mm: f64, wall_mm: f64, modulus_mpa: f64) -> f64 {
    2.0 * pressure_mpa * radius_mm * radius_mm / (modulus_mpa * wall_mm)
}

/// Compliance of a ring of section A, dD/dp = 2 r² L/(E A), mm/kPa, from mm, mm², MPa.
pub fn ring_compliance(
    radius_mm: f64,
    loaded_length_mm: f64,
    modulus_mpa: f64,
    section_mm2: f64,
) -> f64 {
    2.0 * radius_mm * radius_mm * loaded_length_mm / (modulus_mpa * section_mm2) * 1e-3
}

/// Bore of a ring broken open by `gap_mm`, its neutral arc (mid-wall) keeping its length, mm: (π (D + t) + gap)/π − t.
pub fn open_ring_bore(bore_mm: f64, wall_mm: f64, gap_mm: f64) -> f64 {
    (PI * (bore_mm + wall_mm) + gap_mm) / PI - wall_mm
}

/// A thick ring under inner pressure with open ends (Lamé; Timoshenko, Theory of Elasticity).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThickRing {
    /// Inner radius, mm.
    pub inner_radius_mm: f64,
    /// Outer radius, mm.
    pub outer_radius_mm: f64,
    /// Young's modulus, MPa.
    pub modulus_mpa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

impl ThickRing {
    fn squares(&self) -> (f64, f64, f64) {
        let (i2, o2) = (self.inner_radius_mm.powi(2), self.outer_radius_mm.powi(2));
        (i2, o2, o2 - i2)
    }

    /// Hoop stress at the bore, MPa: p (ro² + ri²)/(ro² − ri²).
    pub fn stress_inside(&self, pressure_mpa: f64) -> f64 {
        let (i2, o2, wall) = self.squares();
        pressure_mpa * (o2 + i2) / wall
    }

    /// Hoop stress at the outer surface, MPa: 2 p ri²/(ro² − ri²).
    pub fn stress_outside(&self, pressure_mpa: f64) -> f64 {
        let (i2, _, wall) = self.squares();
        2.0 * pressure_mpa * i2 / wall
    }

    /// Mean hoop stress through the wall, MPa: p ri/(ro − ri).
    pub fn mean_stress(&self, pressure_mpa: f64) -> f64 {
        pressure_mpa * self.inner_radius_mm / (self.outer_radius_mm - self.inner_radius_mm)
    }

    /// Outward displacement of the bore, mm: (p ri/E) [(ro² + ri²)/(ro² − ri²) + ν].
    pub fn displacement_inside(&self, pressure_mpa: f64) -> f64 {
        let (i2, o2, wall) = self.squares();
        pressure_mpa * self.inner_radius_mm / self.modulus_mpa * ((o2 + i2) / wall + self.poisson)
    }

    /// Outward displacement of the outer surface, mm: 2 p ri² ro/[E (ro² − ri²)].
    pub fn displacement_outside(&self, pressure_mpa: f64) -> f64 {
        let (i2, _, wall) = self.squares();
        2.0 * pressure_mpa * i2 * self.outer_radius_mm / (self.modulus_mpa * wall)
    }
}
