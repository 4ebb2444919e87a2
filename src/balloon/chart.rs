//! A maker's chart read between its points: a curve through all of them that rises wherever they do.

/// Piecewise cubic through points of pressure and diameter, monotone between neighbours (Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17:238),
/// with slopes by the weighted harmonic mean (Fritsch & Butland 1984, SIAM J. Sci. Stat. Comput. 5:300) and three points at the ends.
/// Outside the points it goes on straight.
#[derive(Debug, Clone, PartialEq)]
pub struct MonotoneChart {
    /// Pressures, kPa, increasing.
    x: Vec<f64>,
    /// Diameters, mm.
    y: Vec<f64>,
    /// Slope at each point, mm/kPa.
    slope: Vec<f64>,
}

impl MonotoneChart {
    /// Through points whose pressures increase; `None` for fewer than two, for pressures that do not increase, or for a number that is
    /// not finite.
    pub fn through(pressure_kpa: &[f64], diameter_mm: &[f64]) -> Option<Self> {
        let sound = pressure_kpa.len() >= 2
            && pressure_kpa.len() == diameter_mm.len()
            && pressure_kpa
                .iter()
                .chain(diameter_mm)
                .all(|v| v.is_finite())
            && pressure_kpa.windows(2).all(|w| w[0] < w[1]);
        sound.then(|| Self {
            x: pressure_kpa.to_vec(),
            y: diameter_mm.to_vec(),
            slope: slopes(pressure_kpa, diameter_mm),
        })
    }

    /// Diameter at a pressure (kPa), mm.
    pub fn at(&self, pressure_kpa: f64) -> f64 {
        let last = self.x.len() - 1;
        let above = self.x.partition_point(|x| *x < pressure_kpa);
        if above == 0 {
            return self.y[0] + self.slope[0] * (pressure_kpa - self.x[0]);
        }
        if above > last {
            return self.y[last] + self.slope[last] * (pressure_kpa - self.x[last]);
        }
        let below = above - 1;
        let h = self.x[above] - self.x[below];
        let t = (pressure_kpa - self.x[below]) / h;
        // Hermite's four polynomials.
        let (s, tt) = (1.0 - t, t * t);
        (1.0 + 2.0 * t) * s * s * self.y[below]
            + t * s * s * h * self.slope[below]
            + tt * (3.0 - 2.0 * t) * self.y[above]
            - tt * s * h * self.slope[above]
    }
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let step: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let rise: Vec<f64> = y
        .windows(2)
        .zip(&step)
        .map(|(w, h)| (w[1] - w[0]) / h)
        .collect();
    let n = rise.len();
    if n == 1 {
        return vec![rise[0]; 2];
    }
    let mut slope = Vec::with_capacity(n + 1);
    slope.push(at_end((step[0], rise[0]), (step[1], rise[1])));
    for k in 1..n {
        let (a, b) = (rise[k - 1], rise[k]);
        slope.push(if a * b <= 0.0 {
            0.0
        } else {
            let (of_a, of_b) = (step[k - 1] + 2.0 * step[k], 2.0 * step[k - 1] + step[k]);
            (of_a + of_b) / (of_a / a + of_b / b)
        });
    }
    slope.push(at_end(
        (step[n - 1], rise[n - 1]),
        (step[n - 2], rise[n - 2]),
    ));
    slope
}

/// Slope at an end from its own and the next interval (length, rise), held back so that the curve does not turn.
fn at_end((h0, r0): (f64, f64), (h1, r1): (f64, f64)) -> f64 {
    let slope = ((2.0 * h0 + h1) * r0 - h0 * r1) / (h0 + h1);
    if slope * r0 <= 0.0 {
        0.0
    } else if r0 * r1 <= 0.0 && slope.abs() > 3.0 * r0.abs() {
        3.0 * r0
    } else {
        slope
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Values of `scipy.interpolate.PchipInterpolator` 1.17.1 at the same points.
    #[test]
    fn reads_between_points_as_pchip_does() {
        let chart = MonotoneChart::through(
            &[0.0, 200.0, 300.0, 500.0, 800.0, 1200.0],
            &[19.0, 19.9, 19.95, 20.4, 20.5, 21.6],
        )
        .unwrap();
        for (p, d) in [
            (0.0, 19.0),
            (50.0, 19.334_438_775_510_204),
            (100.0, 19.608_503_401_360_54),
            (250.0, 19.925_779_745_860_61),
            (290.0, 19.943_154_254_909_51),
            (400.0, 20.178_832_280_372_234),
            (650.0, 20.451_412_202_598_16),
            (900.0, 20.626_662_198_688_41),
            (1100.0, 21.206_506_447_181_85),
            (1200.0, 21.6),
        ] {
            assert!((chart.at(p) - d).abs() < 1e-12, "{p} kPa: {}", chart.at(p));
        }
    }

    #[test]
    fn never_turns_where_the_points_rise_and_goes_on_straight() {
        let p: Vec<f64> = (0..9).map(|i| f64::from(i * i) * 20.0).collect();
        let d = [18.0, 18.9, 18.91, 18.92, 19.6, 19.61, 19.62, 20.4, 20.41];
        let chart = MonotoneChart::through(&p, &d).unwrap();
        let fine: Vec<f64> = (0..=13_000).map(|i| chart.at(f64::from(i) * 0.1)).collect();
        assert!(fine.windows(2).all(|w| w[1] >= w[0] - 1e-12));
        let beyond = |by: f64| chart.at(1280.0 + by) - chart.at(1280.0);
        assert!((beyond(200.0) - 2.0 * beyond(100.0)).abs() < 1e-12);
        assert!(MonotoneChart::through(&[1.0], &[2.0]).is_none());
        assert!(MonotoneChart::through(&[1.0, 1.0], &[2.0, 3.0]).is_none());
    }
}
