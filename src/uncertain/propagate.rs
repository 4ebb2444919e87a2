//! Uncertainty through a formula (JCGM 100:2008, chapter 5).

/// A computed value with what its inputs did to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Propagated {
    /// The value, in the unit of the formula.
    pub value: f64,
    /// Standard uncertainty.
    pub u: f64,
    /// Change of the value for a change of one of each input.
    pub sensitivities: Vec<f64>,
}

/// Product of powers Π xᵢ^pᵢ of uncorrelated factors `(x, u(x), p)`: relative variances add, weighted by pᵢ² (JCGM 100, eq. 12).
/// The uncertainty is NaN where a factor is 0.
pub fn product(factors: &[(f64, f64, f64)]) -> (f64, f64) {
    let value: f64 = factors.iter().map(|(x, _, power)| x.powf(*power)).product();
    let relative: f64 = factors
        .iter()
        .map(|(x, u, power)| (power * u / x).powi(2))
        .sum();
    (value, value.abs() * relative.sqrt())
}

/// Any function of inputs `x` with standard uncertainties `u`. Sensitivities are central differences over ± u (JCGM 100, 5.1.3
/// note 2), so curvature over the width of the input is averaged rather than ignored. `correlation(i, j)`, if given, is the
/// correlation coefficient of two different inputs (JCGM 100, eq. 16).
///
/// Returns `None` where the lists differ in length, an uncertainty is negative, or the function is not finite over ± u.
pub fn propagate(
    f: impl Fn(&[f64]) -> f64,
    x: &[f64],
    u: &[f64],
    correlation: Option<&dyn Fn(usize, usize) -> f64>,
) -> Option<Propagated> {
    if x.len() != u.len() || u.iter().any(|u| !(*u >= 0.0)) {
        return None;
    }
    let value = f(x);
    let mut moved = x.to_vec();
    let mut sensitivities = Vec::with_capacity(x.len());
    for (i, (&at, &width)) in x.iter().zip(u).enumerate() {
        if width == 0.0 {
            sensitivities.push(0.0);
            continue;
        }
        let mut side = |shift: f64| {
            if let Some(slot) = moved.get_mut(i) {
                *slot = at + shift;
            }
            let result = f(&moved);
            if let Some(slot) = moved.get_mut(i) {
                *slot = at;
            }
            result
        };
        sensitivities.push((side(width) - side(-width)) / (2.0 * width));
    }
    let parts: Vec<f64> = sensitivities.iter().zip(u).map(|(c, u)| c * u).collect();
    let mut variance: f64 = parts.iter().map(|part| part * part).sum();
    if let Some(correlation) = correlation {
        for (i, a) in parts.iter().enumerate() {
            for (j, b) in parts.iter().enumerate().skip(i + 1) {
                variance += 2.0 * a * b * correlation(i, j);
            }
        }
    }
    // Full correlation may leave a variance of -1e-20 by rounding.
    let u = variance.max(0.0).sqrt();
    (value.is_finite() && variance.is_finite()).then_some(Propagated {
        value,
        u,
        sensitivities,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// JCGM 100:2008, H.2 (resistance, reactance, impedance from correlated V, I, phase): R = 127.732(71), X = 219.847(295),
    /// Z = 254.260(236).
    #[test]
    fn impedance_example() {
        let x = [4.9990, 19.6610e-3, 1.04446];
        let u = [0.0032, 0.0095e-3, 0.00075];
        let r = |i: usize, j: usize| match (i, j) {
            (0, 1) => -0.36,
            (0, 2) => 0.86,
            _ => -0.65,
        };
        for (f, value, want) in [
            (
                (|x: &[f64]| x[0] / x[1] * x[2].cos()) as fn(&[f64]) -> f64,
                127.732,
                0.071,
            ),
            (|x: &[f64]| x[0] / x[1] * x[2].sin(), 219.847, 0.295),
            (|x: &[f64]| x[0] / x[1], 254.260, 0.236),
        ] {
            let got = propagate(f, &x, &u, Some(&r)).unwrap();
            assert!((got.value - value).abs() < 0.001, "{got:?}");
            assert!((got.u - want).abs() < 0.002, "{got:?}");
        }
    }

    /// A product by the closed formula and by differences must agree.
    #[test]
    fn product_agrees_with_differences() {
        let (value, u) = product(&[(3.0, 0.01, 2.0), (7.0, 0.02, -1.0)]);
        let other = propagate(|x| x[0] * x[0] / x[1], &[3.0, 7.0], &[0.01, 0.02], None).unwrap();
        assert!((value - other.value).abs() < 1e-12);
        assert!((u - other.u).abs() < 1e-7);
    }

    #[test]
    fn bad_input_is_none() {
        assert!(propagate(|x| x[0], &[1.0], &[], None).is_none());
        assert!(propagate(|x| x[0].ln(), &[0.1], &[0.2], None).is_none());
        assert!(propagate(|x| x[0], &[1.0], &[-1.0], None).is_none());
    }
}
