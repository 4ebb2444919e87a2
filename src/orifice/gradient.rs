//! Pressure gradient from jet velocity.

/// mmHg for (m/s)²: ρ/2 of blood in mmHg, the simplified Bernoulli equation.
pub const BERNOULLI: f64 = 4.0;

/// Gradient of a jet, 4 (v² − v1²), mmHg from m/s; `upstream_m_s` below about 1.5 m/s is commonly left out (0).
pub fn jet_gradient(jet_m_s: f64, upstream_m_s: f64) -> f64 {
    BERNOULLI * (jet_m_s * jet_m_s - upstream_m_s * upstream_m_s)
}

/// Mean gradient of a jet over the samples of an ejection, mmHg: the time mean of 4 v², **not** 4 × (mean v)². Trapezium rule
/// over the times given. `None` for fewer than two samples, lists of different length or times that do not rise.
pub fn mean_jet_gradient(time_s: &[f64], jet_m_s: &[f64]) -> Option<f64> {
    if time_s.len() != jet_m_s.len() {
        return None;
    }
    let (mut sum, mut length) = (0.0, 0.0);
    for (t, v) in time_s.windows(2).zip(jet_m_s.windows(2)) {
        let ([t1, t2], [v1, v2]) = (t, v) else {
            return None;
        };
        let step = t2 - t1;
        if step.is_nan() || step <= 0.0 {
            return None;
        }
        sum += step * f64::midpoint(jet_gradient(*v1, 0.0), jet_gradient(*v2, 0.0));
        length += step;
    }
    let mean = sum / length;
    mean.is_finite().then_some(mean)
}
