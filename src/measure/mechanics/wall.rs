//! A ring of solid wall under inner pressure: what a textbook expects beside what a frame shows.
//!
//! Thick wall with open ends (Lamé; any text on strength of materials, from memory): hoop stress at both faces, and how far each moves. A frame
//! of struts is no such ring, and the modulus that follows from how it opens an equivalent one.

/// A solid ring of one material; lengths in mm, modulus in MPa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Inner radius, mm, above 0.
    pub inner_mm: f64,
    /// Outer radius, mm, above the inner.
    pub outer_mm: f64,
    /// Poisson's ratio, 0 to 0.5.
    pub poisson: f64,
}

impl Wall {
    /// (ro² + ri²) / (ro² − ri²).
    fn thickness(self) -> f64 {
        let (i, o) = (self.inner_mm.powi(2), self.outer_mm.powi(2));
        (o + i) / (o - i)
    }

    /// 2 ri² / (ro² − ri²).
    fn outer_share(self) -> f64 {
        let (i, o) = (self.inner_mm.powi(2), self.outer_mm.powi(2));
        2.0 * i / (o - i)
    }

    /// Hoop stress at the inner and the outer face, in the unit of the pressure.
    pub fn hoop_stress(self, pressure: f64) -> (f64, f64) {
        (pressure * self.thickness(), pressure * self.outer_share())
    }

    /// How far the inner and the outer face move outwards, mm; pressure and modulus in one unit.
    pub fn movement_mm(self, pressure: f64, modulus: f64) -> (f64, f64) {
        (
            pressure * self.inner_mm / modulus * (self.thickness() + self.poisson),
            pressure * self.outer_mm / modulus * self.outer_share(),
        )
    }

    /// The modulus, MPa, with which such a ring would open by so much of its inner diameter for a pressure, mm/kPa.
    pub fn modulus_mpa(self, compliance_mm_per_kpa: f64) -> f64 {
        let (moved, _) = self.movement_mm(1.0, 1.0);
        2.0 * moved / compliance_mm_per_kpa * 1e-3
    }
}
