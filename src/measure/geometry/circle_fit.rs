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

/// Taubin's fit of centred points.
fn taubin(points: &[(f64, f64)]) -> Option<Circle> {
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
    let z = xx + yy;
    let cov = xx * yy - xy * xy;
    let var_z = zz - z * z;
    let a3 = 4.0 * z;
    let a2 = -3.0 * z * z - zz;
    let a1 = var_z * z + 4.0 * cov * z - xz * xz - yz * yz;
    let a0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - var_z * cov;
    // From 0 the polynomial falls to its smallest root, so Newton's method cannot pass it.
    let mut root = 0.0;
    for _ in 0..100 {
        let value = a0 + root * (a1 + root * (a2 + root * a3));
        let slope = a1 + root * (2.0 * a2 + 3.0 * a3 * root);
        let next = root - value / slope;
        if !next.is_finite() || next == root || next < 0.0 {
            break;
        }
        root = next;
    }
    let det = root * root - root * z + cov;
    let cx = (xz * (yy - root) - yz * xy) / det / 2.0;
    let cy = (yz * (xx - root) - xz * xy) / det / 2.0;
    let radius = (cx * cx + cy * cy + z).sqrt();
    radius.is_finite().then_some(Circle {
        center_mm: (cx, cy),
        radius_mm: radius,
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
            let distance = dx.hypot(dy);
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
