//! Calipers, plugs and outlines of the frame's inner edge.

use crate::uncertain::Draws;

/// Step of the set of plug gauges, mm.
pub const PLUG_STEP_MM: f64 = 0.1;
/// Points of a photographed outline.
const OUTLINE_POINTS: usize = 90;
/// Standard deviation of one caliper reading, mm.
pub const CALIPER_SPREAD_MM: f64 = 0.02;
/// Standard deviation of an operator's own bias, mm.
pub const OPERATOR_SPREAD_MM: f64 = 0.01;
/// Smallest step of the caliper, mm.
pub const CALIPER_STEP_MM: f64 = 0.01;
/// Standard deviation of a point of an outline, mm.
const EDGE_SPREAD_MM: f64 = 0.01;

/// Inner edge of a frame: `r(θ) = R + a2 cos 2(θ − φ2) + a3 cos 3(θ − φ3)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outline {
    /// Mean radius R, mm.
    pub radius_mm: f64,
    /// Ovality a2, mm.
    pub oval_mm: f64,
    /// Direction of the long axis φ2, rad.
    pub oval_at: f64,
    /// Three-lobed distortion a3, mm.
    pub lobes_mm: f64,
    /// Direction of a lobe φ3, rad.
    pub lobes_at: f64,
}

impl Outline {
    /// Radius in direction `theta` (rad), mm.
    pub fn radius(&self, theta: f64) -> f64 {
        self.radius_mm
            + self.oval_mm * (2.0 * (theta - self.oval_at)).cos()
            + self.lobes_mm * (3.0 * (theta - self.lobes_at)).cos()
    }

    /// Width through the centre in direction `theta` (rad), mm: the three lobes cancel, a two-point caliper cannot see them.
    pub fn width(&self, theta: f64) -> f64 {
        self.radius(theta) + self.radius(theta + std::f64::consts::PI)
    }

    /// Enclosed area, mm²: `π (R² + (a2² + a3²)/2)`, the integral of r²/2.
    pub fn area(&self) -> f64 {
        std::f64::consts::PI
            * (self.radius_mm.powi(2) + 0.5 * (self.oval_mm.powi(2) + self.lobes_mm.powi(2)))
    }

    /// A point of the edge, mm.
    fn point(&self, theta: f64) -> (f64, f64) {
        let r = self.radius(theta);
        (r * theta.cos(), r * theta.sin())
    }

    /// Perimeter, mm, by 3600 chords (error below 1e-6 of it).
    pub fn perimeter(&self) -> f64 {
        let n = 3600;
        let at = |k: i32| self.point(std::f64::consts::TAU * f64::from(k) / f64::from(n));
        (0..n)
            .map(|k| {
                let ((x0, y0), (x1, y1)) = (at(k), at(k + 1));
                (x1 - x0).hypot(y1 - y0)
            })
            .sum()
    }

    /// Diameter of the largest circle that fits, mm: the centre is moved until the nearest point of the edge is farthest.
    pub fn largest_inscribed(&self) -> f64 {
        let edge: Vec<(f64, f64)> = (0..720)
            .map(|k| self.point(std::f64::consts::TAU * f64::from(k) / 720.0))
            .collect();
        let clearance = |x: f64, y: f64| {
            edge.iter()
                .map(|(px, py)| (px - x).hypot(py - y))
                .fold(f64::INFINITY, f64::min)
        };
        let (mut x, mut y) = (0.0, 0.0);
        let mut best = clearance(x, y);
        let mut reach = 0.1;
        while reach > 1e-6 {
            let better = (0..8)
                .map(|k| {
                    let (sine, cosine) = (std::f64::consts::FRAC_PI_4 * f64::from(k)).sin_cos();
                    (x + reach * cosine, y + reach * sine)
                })
                .map(|(u, v)| (clearance(u, v), u, v))
                .find(|(value, ..)| *value > best);
            match better {
                Some((value, u, v)) => (best, x, y) = (value, u, v),
                None => reach *= 0.5,
            }
        }
        2.0 * best
    }

    /// One caliper reading in direction `deg`, mm, by an operator of `bias` (mm).
    pub fn caliper(&self, deg: f64, bias: f64, draws: &mut Draws) -> f64 {
        let reading = self.width(deg.to_radians()) + bias + CALIPER_SPREAD_MM * draws.normal();
        (reading / CALIPER_STEP_MM).round() * CALIPER_STEP_MM
    }

    /// The largest plug of the set that passes, mm.
    pub fn plug(&self) -> f64 {
        (self.largest_inscribed() / PLUG_STEP_MM).floor() * PLUG_STEP_MM
    }

    /// A traced edge, mm.
    pub fn trace(&self, draws: &mut Draws) -> Vec<(f64, f64)> {
        (0..OUTLINE_POINTS)
            .map(|k| {
                let theta = std::f64::consts::TAU * k as f64 / OUTLINE_POINTS as f64;
                let r = self.radius(theta) + EDGE_SPREAD_MM * draws.normal();
                (r * theta.cos(), r * theta.sin())
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// r = 10 + 0.3 cos 3t: every two-point diameter is 20.00 mm, the largest plug 19.40 mm (elementary: the centre is a centre of
    /// symmetry of order three and the smallest radius 9.7 mm is reached three times).
    #[test]
    fn three_lobes_hide_from_calipers_and_stop_a_plug() {
        let outline = Outline {
            radius_mm: 10.0,
            oval_mm: 0.0,
            oval_at: 0.0,
            lobes_mm: 0.3,
            lobes_at: 0.0,
        };
        for deg in [0.0, 17.0, 60.0, 90.0, 133.0] {
            assert!((outline.width(f64::to_radians(deg)) - 20.0).abs() < 1e-12);
        }
        assert!((outline.largest_inscribed() - 19.4).abs() < 1e-9);
    }

    /// Ellipse-like oval of small eccentricity: area against the polygon of the same edge (shoelace).
    #[test]
    fn area_and_perimeter_agree_with_the_polygon_of_the_edge() {
        let outline = Outline {
            radius_mm: 11.0,
            oval_mm: 0.2,
            oval_at: 0.4,
            lobes_mm: 0.35,
            lobes_at: 1.0,
        };
        let n = 20_000;
        let points: Vec<(f64, f64)> = (0..=n)
            .map(|k| outline.point(std::f64::consts::TAU * f64::from(k) / f64::from(n)))
            .collect();
        let (mut area, mut perimeter) = (0.0, 0.0);
        for pair in points.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            area += 0.5 * (x0 * y1 - x1 * y0);
            perimeter += (x1 - x0).hypot(y1 - y0);
        }
        assert!((area - outline.area()).abs() < 1e-4);
        assert!((perimeter - outline.perimeter()).abs() < 1e-4);
    }
}
