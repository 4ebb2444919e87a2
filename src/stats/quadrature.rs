//! Gauss-Legendre quadrature.

/// Points per panel: exact for polynomials of degree 31.
const POINTS: usize = 16;

/// Nodes and weights on -1..1, by Newton's method on the Legendre polynomial (Press et al., Numerical Recipes, 4.6).
pub(super) fn gauss_legendre() -> [(f64, f64); POINTS] {
    let mut rule = [(0.0, 0.0); POINTS];
    let n = POINTS as f64;
    for (i, slot) in rule.iter_mut().enumerate() {
        let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..20 {
            let (mut p, mut before) = (1.0, 0.0);
            for k in 0..POINTS {
                let k = k as f64;
                (p, before) = (((2.0 * k + 1.0) * x * p - k * before) / (k + 1.0), p);
            }
            slope = n * (x * p - before) / (x * x - 1.0);
            x -= p / slope;
        }
        *slot = (x, 2.0 / ((1.0 - x * x) * slope * slope));
    }
    rule
}

/// Nodes and weights on panels between sorted break points.
pub(super) fn on_panels(breaks: &[f64]) -> Vec<(f64, f64)> {
    let rule = gauss_legendre();
    breaks
        .windows(2)
        .filter_map(|w| match w {
            &[a, b] if b > a => Some((0.5 * (a + b), 0.5 * (b - a))),
            _ => None,
        })
        .flat_map(|(middle, half)| rule.map(|(x, w)| (middle + half * x, half * w)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn integrates_known_functions() {
        let nodes = on_panels(&[0.0, 0.5, 2.0]);
        let sum: f64 = nodes.iter().map(|(x, w)| w * x.exp()).sum();
        assert!((sum - (2.0_f64.exp() - 1.0)).abs() < 1e-14);
        let power: f64 = gauss_legendre().iter().map(|(x, w)| w * x.powi(30)).sum();
        assert!((power - 2.0 / 31.0).abs() < 1e-14);
    }
}
