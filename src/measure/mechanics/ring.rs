//! Tension and force of a ring under inner pressure, and the bore of one broken open.

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

/// Bore of a ring broken open by `gap_mm`, its neutral arc (mid-wall) keeping its length, mm: (π (D + t) + gap)/π − t.
pub fn open_ring_bore(bore_mm: f64, wall_mm: f64, gap_mm: f64) -> f64 {
    (PI * (bore_mm + wall_mm) + gap_mm) / PI - wall_mm
}
