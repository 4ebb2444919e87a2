//! Ellipse through scattered points.

use super::fourier::Polar;
use super::least_squares::{Normal, minimise};
use super::outline::check_finite;
use super::smooth::spacing;
use super::{Ellipse, GeometryError, Outline, fit_circle_algebraic};
use nalgebra::{Matrix3, Matrix5, SVector, Vector3};
use std::f64::consts::{FRAC_PI_2, PI};

/// Fewest points that determine an ellipse.
const NEEDED: usize = 5;
/// A half-axis more than so many times the spread of the points belongs to a parabola, not to a ring: such ends are not taken.
const MOST_AXIS_TO_SPREAD: f64 = 100.0;
const NO_ELLIPSE: GeometryError = GeometryError::NoFit {
    why: "the points determine no ellipse",
};

/// A fitted ellipse.
#[derive(Debug, Clone, PartialEq)]
pub struct EllipseFit {
    /// The ellipse of least squared distances.
    pub ellipse: Ellipse,
    /// Root mean square distance from the points to the ellipse, mm.
    pub rms_mm: f64,
    /// Root of the sum of squared distances, mm.
    pub residual_norm_mm: f64,
    /// Standard uncertainty of the longer and the shorter half-axis from the scatter, mm; infinite for five points.
    pub u_semi_axes_mm: (f64, f64),
    /// Degrees of freedom, n − 5.
    pub degrees_of_freedom: usize,
}

/// Points moved to their mean and shrunk to unit size.
struct Scaled {
    mean: (f64, f64),
    size: f64,
    points: Vec<(f64, f64)>,
}

fn scaled(points: &[(f64, f64)]) -> Result<Scaled, GeometryError> {
    check_finite(points)?;
    let outline = Outline::new(points)?;
    if outline.points().len() < NEEDED {
        return Err(GeometryError::TooFewPoints {
            found: outline.points().len(),
            needed: NEEDED,
        });
    }
    let n = points.len() as f64;
    let mean = points
        .iter()
        .fold((0.0, 0.0), |(x, y), p| (x + p.0 / n, y + p.1 / n));
    let size = points
        .iter()
        .map(|(x, y)| ((x - mean.0).powi(2) + (y - mean.1).powi(2)) / n)
        .sum::<f64>()
        .sqrt();
    Ok(Scaled {
        mean,
        size,
        points: points
            .iter()
            .map(|(x, y)| ((x - mean.0) / size, (y - mean.1) / size))
            .collect(),
    })
}

impl Scaled {
    fn back(&self, ellipse: Ellipse) -> Ellipse {
        Ellipse {
            center_mm: (
                self.mean.0 + self.size * ellipse.center_mm.0,
                self.mean.1 + self.size * ellipse.center_mm.1,
            ),
            semi_major_mm: self.size * ellipse.semi_major_mm,
            semi_minor_mm: self.size * ellipse.semi_minor_mm,
            angle_rad: ellipse.angle_rad,
        }
    }
}

/// Direct algebraic ellipse fit of Fitzgibbon, Pilu and Fisher (1999, IEEE PAMI 21:476) with the constraint 4ac − b² = 1, in the
/// stable form of Halíř and Flusser (1998). Always an ellipse; biased towards small ones when the points cover only an arc.
///
/// # Errors
/// [`GeometryError`] for fewer than five different points, points on one line, values that are not finite, no ellipse.
pub fn fit_ellipse_algebraic(points: &[(f64, f64)]) -> Result<Ellipse, GeometryError> {
    let data = scaled(points)?;
    direct(&data.points)
        .map(|ellipse| data.back(ellipse))
        .ok_or(NO_ELLIPSE)
}

/// The fit of scaled points. The quadratic part (a, b, c) minimises aᵀ(S1 − S2 S3⁻¹ S2ᵀ)a under aᵀC a = 1: with the Cholesky
/// factor of the bracket it is a symmetric eigenproblem, which stays real whatever the data.
fn direct(points: &[(f64, f64)]) -> Option<Ellipse> {
    let (mut s1, mut s2, mut s3) = (Matrix3::zeros(), Matrix3::zeros(), Matrix3::zeros());
    for (x, y) in points {
        let quadratic = Vector3::new(x * x, x * y, y * y);
        let linear = Vector3::new(*x, *y, 1.0);
        s1 += quadratic * quadratic.transpose();
        s2 += quadratic * linear.transpose();
        s3 += linear * linear.transpose();
    }
    let to_linear = s3.try_inverse()? * s2.transpose();
    let mut scatter: Matrix3<f64> = s1 - s2 * to_linear;
    scatter = (scatter + scatter.transpose()) / 2.0;
    // Points exactly on an ellipse make the scatter singular; this keeps the factor without moving any digit that counts.
    let ridge = 1e-15 * s1.trace();
    for i in 0..3 {
        scatter[(i, i)] += ridge;
    }
    let lower_inverse = scatter.cholesky()?.l().try_inverse()?;
    let constraint = Matrix3::new(0.0, 0.0, 2.0, 0.0, -1.0, 0.0, 2.0, 0.0, 0.0);
    let eigen = (lower_inverse * constraint * lower_inverse.transpose()).symmetric_eigen();
    let best = eigen.eigenvalues.imax();
    let quadratic = lower_inverse.transpose() * eigen.eigenvectors.column(best);
    let linear = -to_linear * quadratic;
    from_conic(
        (quadratic[0], quadratic[1], quadratic[2]),
        (linear[0], linear[1], linear[2]),
    )
}

/// The ellipse a x² + b xy + c y² + d x + e y + f = 0; `None` where it is none.
fn from_conic((a, b, c): (f64, f64, f64), (d, e, f): (f64, f64, f64)) -> Option<Ellipse> {
    let det = 4.0 * a * c - b * b;
    if det.is_nan() || det <= 0.0 {
        return None;
    }
    let cx = (b * e - 2.0 * c * d) / det;
    let cy = (b * d - 2.0 * a * e) / det;
    let level = -(f + f64::midpoint(d * cx, e * cy));
    let middle = f64::midpoint(a, c);
    let spread = ((a - c) / 2.0).hypot(b / 2.0);
    let (small, large) = if middle > 0.0 {
        (middle - spread, middle + spread)
    } else {
        (middle + spread, middle - spread)
    };
    let (major2, minor2) = (level / small, level / large);
    if !(major2 > 0.0 && minor2 > 0.0) {
        return None;
    }
    // The long axis lies along the direction of least curvature.
    let sign = middle.signum();
    let angle = 0.5 * (-b * sign).atan2((c - a) * sign);
    Some(Ellipse {
        center_mm: (cx, cy),
        semi_major_mm: major2.sqrt(),
        semi_minor_mm: minor2.sqrt(),
        angle_rad: folded(angle),
    })
}

/// An axis direction in (−π/2, π/2].
fn folded(angle: f64) -> f64 {
    let turned = angle.rem_euclid(PI);
    if turned > FRAC_PI_2 {
        turned - PI
    } else {
        turned
    }
}

/// The equation of the foot point holds to this: some roundings of numbers near 1.
const ROOT_FOUND: f64 = 1e-14;
/// Steps of Newton's method before halving; points that are not very near the long axis take about six.
const NEWTON_STEPS: usize = 32;

/// Foot point of (x, y) ≥ 0 on the ellipse with half-axes a ≥ b > 0 in its own frame (Eberly, Distance from a Point to an Ellipse, 2013), by
/// Newton's method: g falls and is convex, so that from the left it nears its root without passing it. What is left is halved: robust
/// also inside the evolute.
fn foot(a: f64, b: f64, x: f64, y: f64) -> (f64, f64) {
    if y <= 0.0 {
        // On the long axis near the centre the nearest points lie off the axis, in pairs.
        let share = a * x / (a * a - b * b);
        return if share < 1.0 {
            (a * share, b * (1.0 - share * share).sqrt())
        } else {
            (a, 0.0)
        };
    }
    let (zx, zy, ratio) = (x / a, y / b, (a / b).powi(2));
    let (mut low, mut high) = (zy - 1.0, (ratio * zx).hypot(zy) - 1.0);
    for _ in 0..NEWTON_STEPS {
        let (p, q) = (ratio * zx / (low + ratio), zy / (low + 1.0));
        let g = p * p + q * q - 1.0;
        let next = low + 0.5 * g / (p * p / (low + ratio) + q * q / (low + 1.0));
        if !(next > low && next < high) {
            // It moves no more: the root to rounding.
            if g.abs() <= ROOT_FOUND {
                high = low;
            }
            break;
        }
        low = next;
    }
    // 1100 halvings exhaust f64; equality ends it after about 60.
    for _ in 0..1100 {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            break;
        }
        let g = (ratio * zx / (middle + ratio)).powi(2) + (zy / (middle + 1.0)).powi(2) - 1.0;
        if g > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    let t = f64::midpoint(low, high);
    (ratio * x / (t + ratio), y / (t + 1.0))
}

/// Signed distance of a point to an ellipse (centre, half-axes, angle) and its change with the five parameters.
fn distance(p: &SVector<f64, 5>, (x, y): (f64, f64)) -> (SVector<f64, 5>, f64) {
    let (sin, cos) = p[4].sin_cos();
    let (dx, dy) = (x - p[0], y - p[1]);
    let (u, v) = (cos * dx + sin * dy, cos * dy - sin * dx);
    let (a, b) = (p[2].abs(), p[3].abs());
    let (fu, fv) = if a >= b {
        foot(a, b, u.abs(), v.abs())
    } else {
        let (fv, fu) = foot(b, a, v.abs(), u.abs());
        (fu, fv)
    };
    let (fu, fv) = (fu.copysign(u), fv.copysign(v));
    let normal = (fu / (a * a), fv / (b * b));
    let length = normal.0.hypot(normal.1);
    let (nu, nv) = (normal.0 / length, normal.1 / length);
    let signed = (u - fu) * nu + (v - fv) * nv;
    // The foot point moves with the parameters at fixed eccentric angle; only its motion along the normal counts.
    let row = SVector::from([
        -(cos * nu - sin * nv),
        -(sin * nu + cos * nv),
        -nu * fu / a,
        -nv * fv / b,
        nu * fv - nv * fu,
    ]);
    (row, signed)
}

impl Ellipse {
    /// Root mean square of the distances from points to the ellipse, √(Σd²/n), mm; NaN for none.
    pub fn rms_mm(&self, points: &[(f64, f64)]) -> f64 {
        let parameters = SVector::from([
            self.center_mm.0,
            self.center_mm.1,
            self.semi_major_mm,
            self.semi_minor_mm,
            self.angle_rad,
        ]);
        let squares = points
            .iter()
            .map(|point| distance(&parameters, *point).1.powi(2));
        (squares.sum::<f64>() / points.len() as f64).sqrt()
    }
}

/// Geometric ellipse fit: least sum of squared distances, by Levenberg–Marquardt. The sum can have several valleys, so it starts
/// from the direct algebraic fit and, unless the points lie all round, from the best circle stretched along and across them, and keeps the
/// lowest end.
///
/// # Errors
/// [`GeometryError`] for fewer than five different points, points on one line, values that are not finite, no finite ellipse.
pub fn fit_ellipse(points: &[(f64, f64)]) -> Result<EllipseFit, GeometryError> {
    let data = scaled(points)?;
    let sums = |p: &SVector<f64, 5>| {
        let mut normal = Normal::new();
        for point in &data.points {
            let (row, signed) = distance(p, *point);
            normal.add(&row, signed);
        }
        normal
    };
    let (found, end) = starts(&data.points)
        .into_iter()
        .filter_map(|start| minimise(start, sums))
        .filter(|(p, _)| p[2].abs().max(p[3].abs()) <= MOST_AXIS_TO_SPREAD)
        .min_by(|a, b| a.1.sum.total_cmp(&b.1.sum))
        .ok_or(NO_ELLIPSE)?;
    let dof = points.len() - NEEDED;
    let (mut u_a, mut u_b) = half_axis_uncertainty(end.matrix, end.sum, dof, data.size);
    let (mut a, mut b, mut angle) = (found[2].abs(), found[3].abs(), found[4]);
    if b > a {
        (a, b, u_a, u_b, angle) = (b, a, u_b, u_a, angle + FRAC_PI_2);
    }
    Ok(EllipseFit {
        ellipse: data.back(Ellipse {
            center_mm: (found[0], found[1]),
            semi_major_mm: a,
            semi_minor_mm: b,
            angle_rad: folded(angle),
        }),
        rms_mm: data.size * (end.sum / points.len() as f64).sqrt(),
        residual_norm_mm: data.size * end.sum.sqrt(),
        u_semi_axes_mm: (u_a, u_b),
        degrees_of_freedom: dof,
    })
}

/// Points with no wider gap than this lie all round: they leave one valley, that of the direct fit.
const ALL_ROUND_RAD: f64 = FRAC_PI_2;

/// Where to start from.
fn starts(points: &[(f64, f64)]) -> Vec<SVector<f64, 5>> {
    let mut starts = Vec::new();
    if let Some(e) = direct(points) {
        let (x, y) = e.center_mm;
        starts.push(SVector::from([
            x,
            y,
            e.semi_major_mm,
            e.semi_minor_mm,
            e.angle_rad,
        ]));
        let around = points.iter().map(|point| Polar::about(e.center_mm, *point));
        if spacing(&around.collect::<Vec<_>>()).widest < ALL_ROUND_RAD {
            return starts;
        }
    }
    if let Ok(circle) = fit_circle_algebraic(points) {
        let ((x, y), r) = (circle.center_mm, circle.radius_mm);
        // Direction of the widest scatter.
        let (mut cos, mut sin) = (0.0, 0.0);
        for (px, py) in points {
            cos += px * px - py * py;
            sin += 2.0 * px * py;
        }
        let angle = 0.5 * sin.atan2(cos);
        starts.push(SVector::from([x, y, 1.2 * r, r / 1.2, angle]));
        starts.push(SVector::from([x, y, r / 1.2, 1.2 * r, angle]));
    }
    starts
}

/// Standard uncertainties of the half-axes, in mm. On a circle the direction is undetermined and is left out.
fn half_axis_uncertainty(matrix: Matrix5<f64>, sum: f64, dof: usize, size: f64) -> (f64, f64) {
    if dof == 0 {
        return (f64::INFINITY, f64::INFINITY);
    }
    let variance = sum / dof as f64;
    let full = matrix.try_inverse().map(|m| (m[(2, 2)], m[(3, 3)]));
    let without_angle = || {
        let part = matrix.fixed_view::<4, 4>(0, 0).into_owned();
        part.try_inverse().map(|m| (m[(2, 2)], m[(3, 3)]))
    };
    full.or_else(without_angle)
        .map_or((f64::INFINITY, f64::INFINITY), |(a, b)| {
            (size * (a * variance).sqrt(), size * (b * variance).sqrt())
        })
}
