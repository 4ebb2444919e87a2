//! Derivatives of a model by differences, and the check of those a model gives itself.

use super::error::{FitError, check_finite, check_length};
use super::model::Model;

/// Shortest step, as a part of the parameter: below it rounding leaves fewer digits than any step above.
const SHORTEST: f64 = 1.0 / 65536.0;
/// Doublings of the shortest step; the longest is then a quarter of the parameter.
const DOUBLINGS: usize = 14;
/// Differences whose error estimate grew to so many times the least one...
const GROWN: f64 = 4.0;
/// ...for so many doublings end the search: the truncation error has taken over.
const GROWN_FOR: usize = 2;
/// Relative step of the one-sided difference, near the square root of the machine precision.
const ONE_SIDED: f64 = 6e-8;

/// Derivatives with respect to every parameter by central differences of doubling steps, each extrapolated twice to step zero
/// (Richardson; Ridders 1982, Adv. Eng. Softw. 4:75), and of these the one of least error: what it still changed at the last doubling,
/// and what rounding leaves at its step. Good to eleven digits or so for smooth models, however narrow their features are beside the
/// parameter. Where the model is not defined on both sides, one-sided.
pub(super) fn difference_gradient(value: impl Fn(&[f64]) -> f64, params: &[f64], out: &mut [f64]) {
    let mut moved = params.to_vec();
    for (j, slot) in out.iter_mut().enumerate() {
        let Some(&at) = params.get(j) else {
            break;
        };
        let at_offset = |offset: f64| {
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
        *slot = one_derivative(at_offset, magnitude);
    }
}

/// Derivative of a function of an offset from where it is wanted; `magnitude` is that of the number the offset is added to.
pub(super) fn one_derivative(mut at_offset: impl FnMut(f64) -> f64, magnitude: f64) -> f64 {
    // A power of two, so that steps are exact.
    let shortest = (SHORTEST * magnitude).log2().round().exp2();
    let mut central: Vec<f64> = Vec::with_capacity(DOUBLINGS + 1);
    let (mut best, mut least) = (f64::NAN, f64::INFINITY);
    let (mut last, mut grown) = (f64::NAN, 0);
    let mut h = shortest;
    for _ in 0..=DOUBLINGS {
        let (up, down) = (at_offset(h), at_offset(-h));
        let difference = (up - down) / (2.0 * h);
        if !difference.is_finite() {
            break;
        }
        central.push(difference);
        if let [.., a, b, c] = central[..] {
            let (fine, coarse) = ((4.0 * a - b) / 3.0, (4.0 * b - c) / 3.0);
            let now = (16.0 * fine - coarse) / 15.0;
            let rounding = f64::EPSILON * up.abs().max(down.abs()) / (0.25 * h);
            let change = if last.is_nan() {
                now.abs()
            } else {
                (now - last).abs()
            };
            let error = change + rounding;
            if error < least {
                (best, least, grown) = (now, error, 0);
            } else if error > GROWN * least {
                grown += 1;
                if grown == GROWN_FOR {
                    break;
                }
            }
            last = now;
        }
        h *= 2.0;
    }
    if best.is_finite() {
        return best;
    }
    if let Some(&difference) = central.first() {
        return difference;
    }
    let h = ONE_SIDED * magnitude;
    let (up, here, down) = (at_offset(h), at_offset(0.0), at_offset(-h));
    [(up - here) / h, (here - down) / h]
        .into_iter()
        .find(|d| d.is_finite())
        .unwrap_or(f64::NAN)
}

/// How far the derivatives that a model gives differ from differences of its values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GradientCheck {
    /// Largest difference, as a part of the largest derivative with respect to that parameter at any `x`. Differences themselves are
    /// good to 1e-9 or better for smooth models; infinite where a derivative is not finite though the difference is.
    pub worst: f64,
    /// Index of the parameter it was found at.
    pub parameter: usize,
    /// The `x` it was found at.
    pub x: f64,
}

/// Compares the [`gradient`](Model::gradient) of a model with differences of its values at `params`, at every `x`.
pub fn check_gradient(
    model: &dyn Model,
    params: &[f64],
    x: &[f64],
) -> Result<GradientCheck, FitError> {
    let p = model.names().len();
    check_length("parameters", p, params.len())?;
    check_finite("parameters", params)?;
    check_finite("x", x)?;
    if p == 0 {
        return Err(FitError::NoParameters);
    }
    let Some(&first) = x.first() else {
        return Err(FitError::TooFewPoints {
            needed: 1,
            found: 0,
        });
    };
    let mut rows = Vec::with_capacity(x.len());
    let mut largest = vec![0.0_f64; p];
    for &x in x {
        let (mut own, mut differences) = (vec![0.0; p], vec![0.0; p]);
        model.gradient(params, x, &mut own);
        difference_gradient(|b| model.value(b, x), params, &mut differences);
        for (most, d) in largest.iter_mut().zip(&differences) {
            *most = most.max(d.abs());
        }
        rows.push((x, own, differences));
    }
    let mut check = GradientCheck {
        worst: 0.0,
        parameter: 0,
        x: first,
    };
    for (x, own, differences) in rows {
        for (parameter, ((a, b), most)) in own.iter().zip(&differences).zip(&largest).enumerate() {
            let apart = match (a.is_finite(), b.is_finite()) {
                (true, true) if a == b => 0.0,
                (true, true) => (a - b).abs() / most,
                (false, true) => f64::INFINITY,
                // Nothing to compare with.
                (_, false) => 0.0,
            };
            if apart > check.worst {
                check = GradientCheck {
                    worst: apart,
                    parameter,
                    x,
                };
            }
        }
    }
    Ok(check)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn differences_meet_the_derivative() {
        let mut out = [0.0; 2];
        difference_gradient(|p| p[0] * (-p[1] * 2.0).exp(), &[3.0, 0.7], &mut out);
        let e = (-1.4_f64).exp();
        assert!((out[0] - e).abs() < 1e-12);
        assert!((out[1] + 6.0 * e).abs() < 1e-11);
    }

    #[test]
    fn a_narrow_peak_far_from_zero_is_seen() {
        // A peak of width 4 at 450: a fixed step of a thousandth of the parameter would lose half of the digits.
        let mut out = [0.0; 1];
        for x in [440.0_f64, 450.2, 455.0] {
            let value = |at: f64| (-0.5 * ((x - at) / 4.0).powi(2)).exp();
            difference_gradient(|p| value(p[0]), &[450.0], &mut out);
            let exact = value(450.0) * (x - 450.0) / 16.0;
            assert!((out[0] / exact - 1.0).abs() < 1e-10, "{x}: {out:?}");
        }
    }

    #[test]
    fn differences_stay_inside_the_domain() {
        // The square root ends at p = 1: only the forward difference exists there.
        let mut out = [0.0; 1];
        difference_gradient(|p| (p[0] - 1.0).sqrt() + p[0], &[1.0], &mut out);
        assert!(out[0].is_finite());
    }

    /// A wrong sign in the second derivative where `x` is large.
    struct Wrong;
    impl Model for Wrong {
        fn names(&self) -> &[&str] {
            &["a", "b"]
        }
        fn value(&self, p: &[f64], x: f64) -> f64 {
            p[0] + p[1] * x * x
        }
        fn gradient(&self, _: &[f64], x: f64, out: &mut [f64]) {
            out.copy_from_slice(&[1.0, if x > 2.5 { -x * x } else { x * x }]);
        }
    }

    #[test]
    fn a_wrong_gradient_is_found_with_its_place() {
        let check = check_gradient(&Wrong, &[1.0, 2.0], &[1.0, 2.0, 3.0]).unwrap();
        assert_eq!((check.parameter, check.x), (1, 3.0));
        assert!((check.worst - 2.0).abs() < 1e-9);
        let good = check_gradient(&Wrong, &[1.0, 2.0], &[1.0, 2.0]).unwrap();
        assert!(good.worst < 1e-10, "{good:?}");
        assert!(check_gradient(&Wrong, &[1.0], &[1.0]).is_err());
        assert!(check_gradient(&Wrong, &[1.0, 2.0], &[]).is_err());
    }
}
