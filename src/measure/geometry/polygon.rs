//! Area, perimeter and centroid of a polygon, and the diameters they stand for.

use super::Outline;
use std::f64::consts::PI;

/// Diameter of the circle of the same area, D_A = 2 √(A/π), mm from mm².
pub fn area_diameter(area_mm2: f64) -> f64 {
    2.0 * (area_mm2 / PI).sqrt()
}

/// Diameter of the circle of the same perimeter, D_P = P/π, mm from mm.
pub fn perimeter_diameter(perimeter_mm: f64) -> f64 {
    perimeter_mm / PI
}

/// Area of a circle, π D²/4, mm² from mm.
pub fn circle_area(diameter_mm: f64) -> f64 {
    PI / 4.0 * diameter_mm * diameter_mm
}

impl Outline {
    /// Area with sign, mm²: positive where the points run counter-clockwise. Shoelace formula relative to the first point, so that
    /// an outline far from the origin loses no digits.
    pub fn signed_area(&self) -> f64 {
        self.moments().0
    }

    /// Area, mm².
    pub fn area(&self) -> f64 {
        self.signed_area().abs()
    }

    /// Centroid of the enclosed area, mm; the mean of the points where the signed area vanishes (a figure of eight).
    pub fn centroid(&self) -> (f64, f64) {
        let (area, mx, my) = self.moments();
        let (x0, y0) = self.origin();
        let (cx, cy) = (mx / area, my / area);
        if cx.is_finite() && cy.is_finite() {
            (x0 + cx, y0 + cy)
        } else {
            let n = self.points().len() as f64;
            self.points()
                .iter()
                .fold((0.0, 0.0), |(sx, sy), (x, y)| (sx + x / n, sy + y / n))
        }
    }

    /// Length of the outline, mm. It grows with the noise of the points: a side of length s with noise σ across it is longer by
    /// about σ²/s. For noisy outlines see [`super::SmoothOutline`].
    pub fn perimeter(&self) -> f64 {
        self.sides()
            .map(|((x1, y1), (x2, y2))| super::length(x2 - x1, y2 - y1))
            .sum()
    }

    fn origin(&self) -> (f64, f64) {
        self.points().first().copied().unwrap_or((0.0, 0.0))
    }

    /// Signed area and first moments about the first point.
    fn moments(&self) -> (f64, f64, f64) {
        let (x0, y0) = self.origin();
        let (mut area, mut mx, mut my) = (0.0, 0.0, 0.0);
        for ((x1, y1), (x2, y2)) in self.sides() {
            let (x1, y1, x2, y2) = (x1 - x0, y1 - y0, x2 - x0, y2 - y0);
            let cross = x1 * y2 - x2 * y1;
            area += cross / 2.0;
            mx += (x1 + x2) * cross / 6.0;
            my += (y1 + y2) * cross / 6.0;
        }
        (area, mx, my)
    }
}
