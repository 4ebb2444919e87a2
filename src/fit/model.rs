//! What a curve to be fitted has to say about itself.

/// A curve `y = f(x; parameters)`.
pub trait Model {
    /// Names of the parameters, in their order; as many as there are parameters.
    fn names(&self) -> &[&str];

    /// Value at `x`. May be `NaN` or infinite outside the domain of the model: the fit then turns back.
    fn value(&self, params: &[f64], x: f64) -> f64;

    /// Derivative of the value with respect to each parameter, written to `out` (as long as `params`).
    ///
    /// The default takes differences of [`value`](Self::value), good to about ten digits for smooth models.
    fn gradient(&self, params: &[f64], x: f64, out: &mut [f64]) {
        difference_gradient(|p| self.value(p, x), params, out);
    }
}

/// Relative step of the five-point difference: the truncation error goes with its fourth power, the rounding error with 1e-16 over it.
const STEP: f64 = 7e-4;
/// Relative step of the two- and one-sided difference, near the cube root of the machine precision.
const SMALL_STEP: f64 = 6e-6;

/// Derivatives by five-point central differences; where the model is not defined on all five points, by two-sided and at last by
/// one-sided ones.
fn difference_gradient(value: impl Fn(&[f64]) -> f64, params: &[f64], out: &mut [f64]) {
    let mut moved = params.to_vec();
    for (j, slot) in out.iter_mut().enumerate() {
        let Some(&at) = params.get(j) else {
            break;
        };
        let mut at_offset = |offset: f64| {
            if let Some(p) = moved.get_mut(j) {
                *p = at + offset;
            }
            let v = value(&moved);
            if let Some(p) = moved.get_mut(j) {
                *p = at;
            }
            v
        };
        // A parameter at exactly zero has no magnitude of its own; one is assumed.
        let magnitude = if at == 0.0 { 1.0 } else { at.abs() };
        let h = STEP * magnitude;
        let five = (8.0 * (at_offset(h) - at_offset(-h))
            - (at_offset(2.0 * h) - at_offset(-2.0 * h)))
            / (12.0 * h);
        if five.is_finite() {
            *slot = five;
            continue;
        }
        let h = SMALL_STEP * magnitude;
        let (up, here, down) = (at_offset(h), at_offset(0.0), at_offset(-h));
        *slot = [(up - down) / (2.0 * h), (up - here) / h, (here - down) / h]
            .into_iter()
            .find(|d| d.is_finite())
            .unwrap_or(f64::NAN);
    }
}

#[cfg(test)]
mod tests {
    use super::difference_gradient;

    #[test]
    fn differences_meet_the_derivative() {
        let mut out = [0.0; 2];
        difference_gradient(|p| p[0] * (-p[1] * 2.0).exp(), &[3.0, 0.7], &mut out);
        let e = (-1.4_f64).exp();
        assert!((out[0] - e).abs() < 1e-11);
        assert!((out[1] + 6.0 * e).abs() < 1e-10);
    }

    #[test]
    fn differences_stay_inside_the_domain() {
        // The square root ends at p = 1: only the forward difference exists there.
        let mut out = [0.0; 1];
        difference_gradient(|p| (p[0] - 1.0).sqrt() + p[0], &[1.0], &mut out);
        assert!(out[0].is_finite());
    }
}
