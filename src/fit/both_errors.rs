//! Curves through points that are uncertain in both `x` and `y`: orthogonal distance regression.
//!
//! Least is the sum of `(f(x + δ) - y)² / u_y² + δ² / u_x²` over the parameters and the true places `x + δ` (Boggs, Byrd & Schnabel 1987,
//! SIAM J. Sci. Stat. Comput. 8:1052). For given parameters every δ has a problem of its own with one unknown, solved inside; what is left
//! is a curve fit in the parameters alone, whose residual is the signed distance of a point and whose derivative is
//! `∂f/∂parameter / sqrt(u_y² + f'² u_x²)` at the true place. For a straight line it gives the line of York (1966), Can. J. Phys. 44:1079,
//! with the uncertainties of York et al. (2004), Am. J. Phys. 72:367.

use super::bounds::Bound;
use super::curve_fit::CurveFit;
use super::derivative::one_derivative;
use super::error::{FitError, check_finite, check_length};
use super::least_squares::fit_curve;
use super::model::Model;

/// Steps of the search for the true place of one point; a straight curve takes one, a bent one five to ten.
const STEPS: usize = 100;
/// A step below this part of the uncertainty of `x` is the last.
const SMALL: f64 = 1e-12;
/// Halvings of a step that would lead away.
const HALVINGS: usize = 30;

/// Points uncertain in both directions.
#[derive(Debug, Clone, Copy)]
pub struct UncertainPoints<'a> {
    /// Where, as read.
    pub x: &'a [f64],
    /// What, as read.
    pub y: &'a [f64],
    /// Standard uncertainty of each `x`, independent from point to point; zero where it is known exactly.
    pub u_x: &'a [f64],
    /// Standard uncertainty of each `y`, independent too; above zero.
    pub u_y: &'a [f64],
}

/// The signed distance of every point from the curve; `x` is the index of the point, what is observed is zero.
struct Distances<'a> {
    model: &'a dyn Model,
    points: UncertainPoints<'a>,
    /// Of all `x`: the magnitude of one that is zero.
    span: f64,
}

/// A point moved to its true place.
struct Placed {
    /// True less read `x`.
    delta: f64,
    /// Distance of curve and reading there, in `y`.
    rest: f64,
    /// Slope of the curve there.
    slope: f64,
}

impl Distances<'_> {
    fn point(&self, i: f64) -> Option<(f64, f64, f64, f64)> {
        let i = i as usize;
        let p = &self.points;
        Some((*p.x.get(i)?, *p.y.get(i)?, *p.u_x.get(i)?, *p.u_y.get(i)?))
    }

    fn place(&self, params: &[f64], i: f64) -> Option<Placed> {
        let (x, y, u_x, u_y) = self.point(i)?;
        let rest_at = |delta: f64| self.model.value(params, x + delta) - y;
        let slope_at = |delta: f64| {
            let at = x + delta;
            let magnitude = at.abs().max(self.span);
            one_derivative(|h| self.model.value(params, at + h), magnitude)
        };
        let cost = |delta: f64, rest: f64| (rest / u_y).powi(2) + (delta / u_x).powi(2);
        let (mut delta, mut rest) = (0.0, rest_at(0.0));
        if u_x == 0.0 {
            return Some(Placed {
                delta,
                rest,
                slope: 0.0,
            });
        }
        let mut slope = slope_at(0.0);
        for _ in 0..STEPS {
            let variance = u_y * u_y + (slope * u_x).powi(2);
            let mut step = u_x * u_x * slope * (slope * delta - rest) / variance - delta;
            if !step.is_finite() {
                return None;
            }
            let now = cost(delta, rest);
            let mut moved = false;
            for _ in 0..HALVINGS {
                let next = rest_at(delta + step);
                if cost(delta + step, next) <= now {
                    delta += step;
                    rest = next;
                    moved = true;
                    break;
                }
                step *= 0.5;
            }
            if !moved || step.abs() <= SMALL * u_x {
                break;
            }
            slope = slope_at(delta);
        }
        Some(Placed { delta, rest, slope })
    }
}

impl Model for Distances<'_> {
    fn names(&self) -> &[&str] {
        self.model.names()
    }

    fn value(&self, params: &[f64], i: f64) -> f64 {
        let (Some(placed), Some((_, _, u_x, u_y))) = (self.place(params, i), self.point(i)) else {
            return f64::NAN;
        };
        let along = if u_x > 0.0 { placed.delta / u_x } else { 0.0 };
        (placed.rest / u_y).hypot(along).copysign(placed.rest)
    }

    fn gradient(&self, params: &[f64], i: f64, out: &mut [f64]) {
        let (Some(placed), Some((x, _, u_x, u_y))) = (self.place(params, i), self.point(i)) else {
            out.fill(f64::NAN);
            return;
        };
        self.model.gradient(params, x + placed.delta, out);
        let sd = u_y.hypot(placed.slope * u_x);
        for g in out {
            *g /= sd;
        }
    }
}

/// Result of [`fit_both_errors`].
#[derive(Debug, Clone, PartialEq)]
pub struct BothErrorsFit {
    /// The fit: its sum of squares is that of the distances in units of the uncertainties, so `sum_of_squares / dof` near 1 says that the
    /// uncertainties are right. `covariance` is scaled by that ratio, `covariance_as_weighted` takes the uncertainties as they are.
    pub fit: CurveFit,
    /// True less read `x` of every point.
    pub shift: Vec<f64>,
    /// Largest share that the uncertainty of `x` has in the variance of a point's distance, `f'² u_x² / (u_y² + f'² u_x²)`: where it is
    /// small, a fit that takes `x` as exact would do.
    pub largest_share_of_x: f64,
}

/// Fits a curve to points uncertain in both directions, by orthogonal distance. `start` and `bounds` as for [`fit_curve`]. It
/// is begun there and at the fit that takes `x` as exact, and the lower sum of squares is kept. The covariance is that of the linearised fit at the true places.
pub fn fit_both_errors(
    model: &dyn Model,
    points: UncertainPoints<'_>,
    start: &[f64],
    bounds: Option<&[Bound]>,
) -> Result<BothErrorsFit, FitError> {
    let n = points.x.len();
    check_finite("x", points.x)?;
    check_finite("y", points.y)?;
    check_length("y", n, points.y.len())?;
    for (what, values, zero) in [("u_x", points.u_x, true), ("u_y", points.u_y, false)] {
        check_length(what, n, values.len())?;
        check_finite(what, values)?;
        if let Some(index) = values.iter().position(|&u| u < 0.0 || (u == 0.0 && !zero)) {
            return Err(FitError::BadUncertainty { what, index });
        }
    }
    let low = points.x.iter().copied().fold(f64::INFINITY, f64::min);
    let high = points.x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let distances = Distances {
        model,
        points,
        // A hundredth of the range: a point at zero has no magnitude of its own.
        span: ((high - low) / 100.0).max(f64::MIN_POSITIVE),
    };
    let index: Vec<f64> = (0..n).map(|i| i as f64).collect();
    let zeros = vec![0.0; n];
    let mut fit = fit_curve(&distances, &index, &zeros, None, start, bounds)?;
    // The distances may have several minima; that next to the fit with exact x is usually the deepest.
    let weights: Vec<f64> = points.u_y.iter().map(|u| (u * u).recip()).collect();
    let exact = fit_curve(model, points.x, points.y, Some(&weights), start, bounds);
    if let Ok(exact) = exact
        && let Ok(other) = fit_curve(&distances, &index, &zeros, None, &exact.parameters, bounds)
        && other.stop.converged()
        && (other.sum_of_squares < fit.sum_of_squares || !fit.stop.converged())
    {
        fit = other;
    }
    let mut shift = Vec::with_capacity(n);
    let mut largest_share_of_x = 0.0_f64;
    for (&i, (&u_x, &u_y)) in index.iter().zip(points.u_x.iter().zip(points.u_y)) {
        let placed = distances.place(&fit.parameters, i);
        shift.push(placed.as_ref().map_or(f64::NAN, |p| p.delta));
        let along = placed.map_or(f64::NAN, |p| p.slope * u_x);
        largest_share_of_x = largest_share_of_x.max((along / along.hypot(u_y)).powi(2));
    }
    Ok(BothErrorsFit {
        fit,
        shift,
        largest_share_of_x,
    })
}
