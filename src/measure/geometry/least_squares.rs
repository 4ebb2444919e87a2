//! Levenberg–Marquardt for the few parameters of a circle or an ellipse.

use nalgebra::{SMatrix, SVector};

/// JᵀJ, Jᵀr and rᵀr at some parameters.
pub(super) struct Normal<const P: usize> {
    pub matrix: SMatrix<f64, P, P>,
    pub gradient: SVector<f64, P>,
    pub sum: f64,
}

impl<const P: usize> Normal<P> {
    pub(super) fn new() -> Self {
        Self {
            matrix: SMatrix::zeros(),
            gradient: SVector::zeros(),
            sum: 0.0,
        }
    }

    pub(super) fn add(&mut self, row: &SVector<f64, P>, residual: f64) {
        self.matrix += row * row.transpose();
        self.gradient += row * residual;
        self.sum += residual * residual;
    }
}

/// Steps before giving up; good starts need about ten.
const MOST_STEPS: usize = 500;

/// Lowers the sum of squares from a start. `None` where nothing finite is found.
pub(super) fn minimise<const P: usize>(
    start: SVector<f64, P>,
    at: impl Fn(&SVector<f64, P>) -> Normal<P>,
) -> Option<(SVector<f64, P>, Normal<P>)> {
    let mut place = start;
    let mut here = at(&place);
    let mut damping = 1e-3;
    for _ in 0..MOST_STEPS {
        if !here.sum.is_finite() {
            return None;
        }
        let mut matrix = here.matrix;
        for i in 0..P {
            matrix[(i, i)] *= 1.0 + damping;
        }
        let Some(step) = matrix.cholesky().map(|c| c.solve(&here.gradient)) else {
            damping *= 10.0;
            if damping > 1e12 {
                break;
            }
            continue;
        };
        let next = place - step;
        // The sum would fall by less than its own rounding: the last step, which leaves the parameters off by about 1e-8 of what they
        // scatter by.
        if here.gradient.dot(&step) <= f64::EPSILON * here.sum {
            place = next;
            break;
        }
        let there = at(&next);
        if there.sum.is_finite() && there.sum <= here.sum {
            let small = step.norm() <= 1e-14 * (1.0 + place.norm());
            place = next;
            here = there;
            damping = (damping / 10.0).max(1e-12);
            if small {
                break;
            }
        } else {
            // No lower sum along a vanishing step: the bottom is reached to rounding.
            if step.norm() <= 1e-13 * (1.0 + place.norm()) {
                break;
            }
            damping *= 10.0;
            if damping > 1e12 {
                break;
            }
        }
    }
    Some((place, here))
}
