//! Root of a function between two points of opposite sign (Brent 1973, Algorithms for Minimization without Derivatives, chapter 4).

/// Root to nearly full precision, or `None` if the ends do not bracket one or the function is not finite.
pub(super) fn root_between(f: impl Fn(f64) -> f64, lower: f64, upper: f64) -> Option<f64> {
    const ROUNDS: usize = 1000;
    let (mut a, mut b) = (lower, upper);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if fa.is_nan() || fb.is_nan() || (fa > 0.0) == (fb > 0.0) {
        return None;
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut before = step;
    for _ in 0..ROUNDS {
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let tolerance = 2.0 * f64::EPSILON * b.abs() + f64::MIN_POSITIVE;
        let middle = 0.5 * (c - b);
        if middle.abs() <= tolerance || fb == 0.0 {
            return Some(b);
        }
        let mut bisect = true;
        if before.abs() >= tolerance && fa.abs() > fb.abs() {
            let s = fb / fa;
            let (mut p, mut q) = if a == c {
                (2.0 * middle * s, 1.0 - s)
            } else {
                let (q, r) = (fa / fc, fb / fc);
                (
                    s * (2.0 * middle * q * (q - r) - (b - a) * (r - 1.0)),
                    (q - 1.0) * (r - 1.0) * (s - 1.0),
                )
            };
            if p > 0.0 {
                q = -q;
            }
            p = p.abs();
            if 2.0 * p < (3.0 * middle * q - (tolerance * q).abs()).min((before * q).abs()) {
                before = step;
                step = p / q;
                bisect = false;
            }
        }
        if bisect {
            step = middle;
            before = middle;
        }
        (a, fa) = (b, fb);
        b += if step.abs() > tolerance {
            step
        } else {
            tolerance.copysign(middle)
        };
        fb = f(b);
        if !fb.is_finite() {
            return None;
        }
        if (fb > 0.0) == (fc > 0.0) {
            (c, fc) = (a, fa);
            step = b - a;
            before = step;
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::root_between;

    #[test]
    fn known_roots() {
        let root = root_between(|x| x * x - 2.0, 0.0, 2.0).unwrap_or(f64::NAN);
        assert!((root - std::f64::consts::SQRT_2).abs() < 1e-15);
        let root = root_between(|x| x.powi(9), -1.0, 1.5).unwrap_or(f64::NAN);
        assert!(root.abs() < 1e-2);
        assert_eq!(root_between(|x| x * x + 1.0, 0.0, 2.0), None);
        assert_eq!(root_between(|_| f64::NAN, 0.0, 2.0), None);
    }
}
