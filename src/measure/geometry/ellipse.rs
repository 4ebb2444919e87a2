//! An ellipse and what follows from its axes.

use std::f64::consts::PI;

/// An ellipse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    /// Centre, mm.
    pub center_mm: (f64, f64),
    /// Longer half-axis, mm.
    pub semi_major_mm: f64,
    /// Shorter half-axis, mm.
    pub semi_minor_mm: f64,
    /// Direction of the longer axis, rad, in (−π/2, π/2], counter-clockwise from x.
    pub angle_rad: f64,
}

impl Ellipse {
    /// Area π a b, mm².
    pub fn area(&self) -> f64 {
        PI * self.semi_major_mm * self.semi_minor_mm
    }

    /// Perimeter, mm: the complete elliptic integral of the second kind by the arithmetic-geometric mean (Abramowitz and Stegun
    /// 17.6), exact to rounding.
    pub fn perimeter(&self) -> f64 {
        let (mut a, mut b) = (self.semi_major_mm, self.semi_minor_mm);
        if b <= 0.0 {
            return 4.0 * a;
        }
        let mut weight = 0.5;
        let mut sum = weight * (a * a - b * b);
        // Converges quadratically: five steps are enough, ten are safe.
        for _ in 0..10 {
            let c = (a - b) / 2.0;
            (a, b) = (f64::midpoint(a, b), (a * b).sqrt());
            weight *= 2.0;
            sum += weight * c * c;
        }
        2.0 * PI * (self.semi_major_mm * self.semi_major_mm - sum) / a
    }

    /// Mean of the longest and shortest diameter, (Dmax + Dmin)/2, mm.
    pub fn mean_diameter(&self) -> f64 {
        self.semi_major_mm + self.semi_minor_mm
    }

    /// Eccentricity index 1 − Dmin/Dmax, the word of CT sizing.
    pub fn eccentricity_index(&self) -> f64 {
        eccentricity_index(2.0 * self.semi_major_mm, 2.0 * self.semi_minor_mm)
    }
}

/// Eccentricity index 1 − Dmin/Dmax.
pub fn eccentricity_index(max_mm: f64, min_mm: f64) -> f64 {
    1.0 - min_mm / max_mm
}

/// Ovality (Dmax − Dmin)/Dmean with Dmean = (Dmax + Dmin)/2.
pub fn ovality(max_mm: f64, min_mm: f64) -> f64 {
    (max_mm - min_mm) / f64::midpoint(max_mm, min_mm)
}
