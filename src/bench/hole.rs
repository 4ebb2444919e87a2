//! A hole in the balloon: a pinhole that leaks or the tear of a burst.

/// Discharge coefficient of a sharp-edged hole (0.62, the usual textbook value).
pub const DISCHARGE_COEFFICIENT: f64 = 0.62;

/// An opening to ambient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hole {
    /// Area, mm².
    pub area_mm2: f64,
}

impl Hole {
    /// A round hole of diameter `d_um`, µm.
    pub fn round(d_um: f64) -> Self {
        Self {
            area_mm2: std::f64::consts::FRAC_PI_4 * (d_um * 1e-3).powi(2),
        }
    }

    /// Speed of the jet at gauge pressure `p` (kPa) for a fluid of `density` (g/mL), m/s: `sqrt(2 p / ρ)` (Torricelli; with kPa
    /// and g/mL the powers of ten cancel). Nothing flows in at suction.
    pub fn jet_speed(p: f64, density: f64) -> f64 {
        (2.0 * p.max(0.0) / density).sqrt()
    }

    /// Flow out at `p` (kPa), mL/s: `Cd A sqrt(2 p / ρ)`; mm² × m/s = mL/s.
    pub fn flow(&self, p: f64, density: f64) -> f64 {
        DISCHARGE_COEFFICIENT * self.area_mm2 * Self::jet_speed(p, density)
    }
}
