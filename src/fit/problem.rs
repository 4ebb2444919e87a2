//! A curve fit in the terms of the `levenberg-marquardt` crate; nothing outside this folder sees them.

use std::cell::Cell;

use levenberg_marquardt::LeastSquaresProblem;
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};

use super::bounds::Bound;
use super::model::Model;

/// Residual that stands for "the model is not finite here", so that the step is taken back. Its square, summed, does not overflow.
const FORBIDDEN: f64 = 1e140;

/// The data and the model as they are fitted: a list of free parameters, each behind its bound.
pub(super) struct Problem<'a> {
    pub(super) model: &'a dyn Model,
    pub(super) x: &'a [f64],
    pub(super) y: &'a [f64],
    pub(super) root_weights: Option<Vec<f64>>,
    pub(super) bounds: Vec<Bound>,
    /// All parameters in the model's own terms.
    pub(super) full: Vec<f64>,
    /// Which of them are free.
    pub(super) free: Vec<usize>,
    /// The free ones in the terms of the iteration.
    pub(super) q: DVector<f64>,
    pub(super) evaluations: Cell<usize>,
}

impl<'a> Problem<'a> {
    pub(super) fn copy(&self) -> Problem<'a> {
        Problem {
            root_weights: self.root_weights.clone(),
            bounds: self.bounds.clone(),
            full: self.full.clone(),
            free: self.free.clone(),
            q: self.q.clone(),
            evaluations: self.evaluations.clone(),
            ..*self
        }
    }

    fn root_weight(&self, i: usize) -> f64 {
        self.root_weights
            .as_ref()
            .and_then(|w| w.get(i))
            .copied()
            .unwrap_or(1.0)
    }

    pub(super) fn residual_vector(&self) -> DVector<f64> {
        self.evaluations.set(self.evaluations.get() + 1);
        DVector::from_iterator(
            self.x.len(),
            self.x.iter().zip(self.y).enumerate().map(|(i, (&x, &y))| {
                let r = (self.model.value(&self.full, x) - y) * self.root_weight(i);
                if r.is_finite() {
                    r.clamp(-FORBIDDEN, FORBIDDEN)
                } else {
                    FORBIDDEN
                }
            }),
        )
    }

    /// Parameters that ended next to a bound, each with that bound.
    pub(super) fn touching(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        let near = |(j, bound): (usize, &Bound)| Some((j, bound.touched(self.full[j])?));
        self.bounds.iter().enumerate().filter_map(near)
    }

    /// Weighted derivatives with respect to the free parameters in the model's own terms.
    pub(super) fn model_jacobian(&self) -> DMatrix<f64> {
        let mut jacobian = DMatrix::zeros(self.x.len(), self.free.len());
        let mut gradient = vec![0.0; self.full.len()];
        for (i, &x) in self.x.iter().enumerate() {
            self.model.gradient(&self.full, x, &mut gradient);
            for (column, &j) in self.free.iter().enumerate() {
                jacobian[(i, column)] = gradient[j] * self.root_weight(i);
            }
        }
        jacobian
    }

    /// Takes over which parameters are free and computes their transformed values.
    pub(super) fn set_free(&mut self, free: Vec<usize>) {
        self.q = DVector::from_iterator(
            free.len(),
            free.iter().map(|&j| self.bounds[j].to_free(self.full[j])),
        );
        for (&j, &q) in free.iter().zip(self.q.iter()) {
            self.full[j] = self.bounds[j].value_of(q);
        }
        self.free = free;
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, q: &DVector<f64>) {
        self.q.copy_from(q);
        for (&j, &q) in self.free.iter().zip(q.iter()) {
            self.full[j] = self.bounds[j].value_of(q);
        }
    }

    fn params(&self) -> DVector<f64> {
        self.q.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some(self.residual_vector())
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let mut jacobian = self.model_jacobian();
        for (column, &j) in self.free.iter().enumerate() {
            let slope = self.bounds[j].slope(self.q[column]);
            jacobian.column_mut(column).scale_mut(slope);
        }
        // A point outside the model's domain pulls nowhere; its residual alone turns the step back.
        jacobian
            .iter_mut()
            .filter(|v| !v.is_finite())
            .for_each(|v| *v = 0.0);
        Some(jacobian)
    }
}
