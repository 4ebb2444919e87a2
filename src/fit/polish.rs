//! The last digits of a fit that has converged.
//!
//! The iteration ends when the sum of squares no longer changes, and that is flat at its minimum: half of the digits of the parameters
//! may still be open. Gauss-Newton steps go on from there, by what the parameters themselves change.

use nalgebra::{DMatrix, DVector};

use super::problem::Problem;

/// Steps at most; each gains a digit or more where the model is nearly straight over the uncertainties, less where it bends.
const STEPS: usize = 60;
/// A step that changes the curve by less than this part of its residuals is the last.
const SMALL: f64 = 1e-13;
/// A step must be shorter than this part of the one before, or the steps have reached what rounding leaves (or do not converge).
const SHRINKS: f64 = 0.95;
/// How much the sum of squares may rise by rounding.
const RISE: f64 = 1e-10;

/// Takes Gauss-Newton steps in the free parameters as long as they shrink, stay inside the bounds and do not raise the sum of squares.
pub(super) fn polish(problem: &mut Problem<'_>) {
    let mut residuals = problem.residual_vector();
    let mut squares = residuals.norm_squared();
    let mut last = f64::INFINITY;
    for _ in 0..STEPS {
        let Some((step, change)) = gauss_newton(problem.model_jacobian(), &residuals) else {
            return;
        };
        let small = change <= SMALL * squares.sqrt();
        if change >= SHRINKS * last {
            return;
        }
        let before = problem.full.clone();
        for (&j, step) in problem.free.iter().zip(step.iter()) {
            problem.full[j] -= step;
        }
        let inside = problem.free.iter().all(|&j| {
            problem.bounds[j].lower <= problem.full[j] && problem.full[j] <= problem.bounds[j].upper
        });
        let next = problem.residual_vector();
        let next_squares = next.norm_squared();
        if !inside || next_squares > squares * (1.0 + RISE) {
            problem.full = before;
            return;
        }
        (residuals, squares, last) = (next, next_squares, change);
        if small {
            return;
        }
    }
}

/// The step of the parameters and by how much it changes the (weighted) curve; `None` where the parameters are not all determined.
fn gauss_newton(
    mut jacobian: DMatrix<f64>,
    residuals: &DVector<f64>,
) -> Option<(DVector<f64>, f64)> {
    /// Smallest part of a scaled column that may be left of it beside the others.
    const DETERMINED: f64 = 1e-12;
    if jacobian.ncols() == 0 || jacobian.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let norms: Vec<f64> = jacobian.column_iter().map(|c| c.norm()).collect();
    for (mut column, &norm) in jacobian.column_iter_mut().zip(&norms) {
        if norm <= 0.0 {
            return None;
        }
        column /= norm;
    }
    let qr = jacobian.clone().qr();
    let r = qr.r();
    if r.diagonal().iter().any(|d| d.abs() < DETERMINED) {
        return None;
    }
    let p = r.ncols();
    let mut step = qr.q().tr_mul(residuals).rows(0, p).into_owned();
    let change = step.norm();
    if !r.solve_upper_triangular_mut(&mut step) {
        return None;
    }
    for (s, &norm) in step.iter_mut().zip(&norms) {
        *s /= norm;
    }
    step.iter().all(|s| s.is_finite()).then_some((step, change))
}
