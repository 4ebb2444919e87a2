//! What a curve to be fitted has to say about itself.

use super::derivative::difference_gradient;

/// A curve `y = f(x; parameters)`.
pub trait Model {
    /// Names of the parameters, in their order; as many as there are parameters.
    fn names(&self) -> &[&str];

    /// Value at `x`. May be `NaN` or infinite outside the domain of the model: the fit then turns back.
    fn value(&self, params: &[f64], x: f64) -> f64;

    /// Derivative of the value with respect to each parameter, written to `out` (as long as `params`).
    ///
    /// The default takes differences of [`value`](Self::value), good to about eleven digits for smooth models.
    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        difference_gradient(|p| self.value(p, x), params, out);
    }
}
