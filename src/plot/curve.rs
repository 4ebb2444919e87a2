//! Curves of results as points to draw.

use crate::recording::{Curve, Phase, PhaseKind};

/// Pairs of two lists of a curve, as long as the shorter; points that are not finite are left out.
pub fn pairs(x: &[f64], y: &[f64]) -> Vec<(f64, f64)> {
    x.iter()
        .copied()
        .zip(y.iter().copied())
        .filter(|(x, y)| x.is_finite() && y.is_finite())
        .collect()
}

/// Value of a list `y` over `x` at a point, by straight lines; `None` outside or where `x` does not increase there.
pub fn interpolate(x: &[f64], y: &[f64], at: f64) -> Option<f64> {
    let next = x.partition_point(|v| *v < at);
    let (x1, y1) = (*x.get(next)?, *y.get(next)?);
    if x1 == at {
        return Some(y1);
    }
    let previous = next.checked_sub(1)?;
    let (x0, y0) = (*x.get(previous)?, *y.get(previous)?);
    let value = y0 + (at - x0) / (x1 - x0) * (y1 - y0);
    (x1 > x0 && value.is_finite()).then_some(value)
}

/// Means of two channels over the last samples of each hold, where nothing flows and the pressure is that of the balloon. Holds
/// without a finite sample give none.
pub fn hold_ends(phases: &[Phase], x: &[f64], y: &[f64]) -> Vec<(f64, f64)> {
    /// Samples averaged at the end of a hold.
    const SAMPLES: usize = 10;
    phases
        .iter()
        .filter(|phase| phase.kind == PhaseKind::Hold)
        .filter_map(|phase| {
            let from = phase.start.max(phase.end.saturating_sub(SAMPLES));
            let points = pairs(x.get(from..phase.end)?, y.get(from..phase.end)?);
            let n = points.len() as f64;
            let sum = points
                .iter()
                .fold((0.0, 0.0), |sum, p| (sum.0 + p.0, sum.1 + p.1));
            (n > 0.0).then_some((sum.0 / n, sum.1 / n))
        })
        .collect()
}

/// Volume against pressure of a curve.
pub fn volume_pressure(curve: &Curve) -> Vec<(f64, f64)> {
    pairs(&curve.volume_ml, &curve.pressure_kpa)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn straight_between_points_and_nothing_beyond() {
        let (x, y) = ([0.0, 1.0, 3.0], [0.0, 10.0, 30.0]);
        assert_eq!(interpolate(&x, &y, 2.0), Some(20.0));
        assert_eq!(interpolate(&x, &y, 0.0), Some(0.0));
        assert_eq!(interpolate(&x, &y, 3.1), None);
        assert_eq!(interpolate(&x, &y, -0.1), None);
    }
}
