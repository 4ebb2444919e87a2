//! Circle through scattered points.

use super::least_squares::{Normal, minimise};
use super::outline::check_finite;
use super::{GeometryError, Outline};
use nalgebra::Vector3;

/// A radius more than so many times the spread of the points means an arc under about a degree: the points are a line for all
/// purposes, and the fit may have run off towards infinity.
const MOST_RADIUS_TO_SPREAD: f64 = 100.0;

/// A circle of some radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Centre, mm.
    pub center_mm: (f64, f64),
    /// Radius, mm.
    pub radius_mm: f64,
}

impl Circle {
    /// Root mean square of the distances from points to the circle, √(Σd²/n), mm; NaN for none.
    pub fn rms_mm(&self, points: &[(f64, f64)]) -> f64 {
        let (x0, y0) = self.center_mm;
        let off = points
            .iter()
            .map(|(x, y)| (x - x0).hypot(y - y0) - self.radius_mm);
        (off.map(|d| d * d).sum::<f64>() / points.len() as f64).sqrt()
    }
}

/// A fitted circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CircleFit {
    /// The circle of least squared distances.
    pub circle: Circle,
    /// Root mean square of the distances from the points to the circle, √(Σd²/n), mm.
    pub rms_mm: f64,
    /// Standard uncertainty of the radius from the scatter of the points, mm; infinite for three points, which leave no scatter.
    /// Assumes independent points; an offset common to all points (edge threshold, scale) is not in it.
    pub u_radius_mm: f64,
    /// Degrees of freedom, n − 3.
    pub degrees_of_freedom: usize,
}

/// Mean of the points, and the points relative to it.
type Centred = ((f64, f64), Vec<(f64, f64)>);

fn prepared(points: &[(f64, f64)]) -> Result<Centred, GeometryError> {
    check_finite(points)?;
    // The same checks as for an outline: three different points, not on one line.
    Outline::new(points)?;
    let n = points.len() as f64;
    let mean = points
        .iter()
        .fold((0.0, 0.0), |(x, y), p| (x + p.0 / n, y + p.1 / n));
    let centred = points
        .iter()
        .map(|(x, y)| (x - mean.0, y - mean.1))
        .collect();
    Ok((mean, centred))
}

/// Algebraic circle fit of Taubin (1991, IEEE PAMI 13:1115), by Newton's method on the characteristic polynomial after Chernov
/// (Circular and Linear Regression, 2010, section 5.9). Close to the geometric fit even on short arcs.
///
/// # Errors
/// [`GeometryError`] for fewer than three different points, points on one line, values that are not finite.
pub fn fit_circle_algebraic(points: &[(f64, f64)]) -> Result<Circle, GeometryError> {
    let (mean, centred) = prepared(points)?;
    taubin(&centred)
        .map(|circle| shifted(circle, mean))
        .ok_or(GeometryError::NoFit {
            why: "the points determine no circle",
        })
}

fn shifted(circle: Circle, mean: (f64, f64)) -> Circle {
    Circle {
        center_mm: (circle.center_mm.0 + mean.0, circle.center_mm.1 + mean.1),
        ..circle
    }
}

/// Moments of centred points, z = x² + y².
struct Moments {
    xx: f64,
    yy: f64,
    xy: f64,
    xz: f64,
    yz: f64,
    zz: f64,
}

impl Moments {
    fn of(points: &[(f64, f64)]) -> Self {
        let n = points.len() as f64;
        let (mut xx, mut yy, mut xy, mut xz, mut yz, mut zz) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        for (x, y) in points {
            let z = x * x + y * y;
            xx += x * x / n;
            yy += y * y / n;
            xy += x * y / n;
            xz += x * z / n;
            yz += y * z / n;
            zz += z * z / n;
        }
        Self {
            xx,
            yy,
            xy,
            xz,
            yz,
            zz,
        }
    }

    fn z(&self) -> f64 {
        self.xx + self.yy
    }

    fn covariance(&self) -> f64 {
        self.xx * self.yy - self.xy * self.xy
    }

    /// Coefficients of the characteristic polynomial that both fits share: of degree 0 and 1.
    fn lowest(&self) -> [f64; 2] {
        let (z, cov, var_z) = (self.z(), self.covariance(), self.zz - self.z() * self.z());
        let Self {
            xx, yy, xy, xz, yz, ..
        } = self;
        [
            xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - var_z * cov,
            var_z * z + 4.0 * cov * z - xz * xz - yz * yz,
        ]
    }

    /// Centre for a root of the polynomial.
    fn center(&self, root: f64) -> (f64, f64) {
        let det = root * root - root * self.z() + self.covariance();
        (
            (self.xz * (self.yy - root) - self.yz * self.xy) / det / 2.0,
            (self.yz * (self.xx - root) - self.xz * self.xy) / det / 2.0,
        )
    }
}

/// Smallest root of a polynomial from its constant up, by Newton's method: from 0 it falls to that root, so it cannot be passed.
fn smallest_root(coefficients: &[f64]) -> f64 {
    let mut root = 0.0;
    for _ in 0..100 {
        let (mut value, mut slope) = (0.0, 0.0);
        for coefficient in coefficients.iter().rev() {
            slope = slope * root + value;
            value = value * root + coefficient;
        }
        let next: f64 = root - value / slope;
        if !next.is_finite() || next == root || next < 0.0 {
            break;
        }
        root = next;
    }
    root
}

/// Taubin's fit of centred points.
fn taubin(points: &[(f64, f64)]) -> Option<Circle> {
    let m = Moments::of(points);
    let (z, [a0, a1]) = (m.z(), m.lowest());
    let root = smallest_root(&[a0, a1, -3.0 * z * z - m.zz, 4.0 * z]);
    let (cx, cy) = m.center(root);
    let radius = (cx * cx + cy * cy + z).sqrt();
    radius.is_finite().then_some(Circle {
        center_mm: (cx, cy),
        radius_mm: radius,
    })
}

/// Hyper-accurate fit of centred points.
fn hyper(points: &[(f64, f64)]) -> Option<Circle> {
    let m = Moments::of(points);
    let (z, [a0, a1]) = (m.z(), m.lowest());
    let a2 = 4.0 * m.covariance() - 3.0 * z * z - m.zz;
    let root = smallest_root(&[a0, a1, a2, 0.0, 4.0]);
    let (cx, cy) = m.center(root);
    let radius = (cx * cx + cy * cy + z - 2.0 * root).sqrt();
    radius.is_finite().then_some(Circle {
        center_mm: (cx, cy),
        radius_mm: radius,
    })
}

/// Hyper-accurate algebraic circle fit of Al-Sharadqah and Chernov (2009, Electronic Journal of Statistics 3:886): an algebraic fit
/// whose bias vanishes to second order in the noise, so that it neither shrinks nor swells short arcs. Newton's method as for
/// [`fit_circle_algebraic`].
///
/// # Errors
/// As [`fit_circle_algebraic`].
pub fn fit_circle_hyper(points: &[(f64, f64)]) -> Result<Circle, GeometryError> {
    let (mean, centred) = prepared(points)?;
    hyper(&centred)
        .map(|circle| shifted(circle, mean))
        .ok_or(GeometryError::NoFit {
            why: "the points determine no circle",
        })
}

/// Geometric circle fit: least sum of squared distances, by Levenberg–Marquardt from Taubin's algebraic fit.
///
/// # Errors
/// [`GeometryError`] for fewer than three different points, points on one line, values that are not finite, no finite circle.
pub fn fit_circle(points: &[(f64, f64)]) -> Result<CircleFit, GeometryError> {
    const NO_CIRCLE: GeometryError = GeometryError::NoFit {
        why: "no circle of least distance",
    };
    let (mean, centred) = prepared(points)?;
    let start = taubin(&centred).ok_or(NO_CIRCLE)?;
    let start = Vector3::new(start.center_mm.0, start.center_mm.1, start.radius_mm);
    let (found, end) = minimise(start, |p| {
        let mut normal = Normal::new();
        for (x, y) in &centred {
            let (dx, dy) = (x - p[0], y - p[1]);
            let distance = super::length(dx, dy);
            // At the centre itself no direction is nearer; any will do.
            let (ux, uy) = if distance > 0.0 {
                (dx / distance, dy / distance)
            } else {
                (1.0, 0.0)
            };
            normal.add(&Vector3::new(-ux, -uy, -1.0), distance - p[2]);
        }
        normal
    })
    .ok_or(NO_CIRCLE)?;
    let spread =
        (centred.iter().map(|(x, y)| x * x + y * y).sum::<f64>() / centred.len() as f64).sqrt();
    if found[2].abs() > MOST_RADIUS_TO_SPREAD * spread {
        return Err(GeometryError::NoFit {
            why: "the points lie almost on one line, the radius runs off to infinity",
        });
    }
    let dof = points.len() - 3;
    let variance = end.sum / dof as f64;
    let u = end
        .matrix
        .try_inverse()
        .map_or(f64::INFINITY, |inverse| (inverse[(2, 2)] * variance).sqrt());
    Ok(CircleFit {
        circle: shifted(
            Circle {
                center_mm: (found[0], found[1]),
                radius_mm: found[2].abs(),
            },
            mean,
        ),
        rms_mm: (end.sum / points.len() as f64).sqrt(),
        u_radius_mm: if dof > 0 { u } else { f64::INFINITY },
        degrees_of_freedom: dof,
    })
}
