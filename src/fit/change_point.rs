//! Where a straight line changes its slope: two straight lines that meet.

use super::error::{FitError, check_finite, check_length};

/// Different `x` needed on each side of the break, so that each line is more than drawn through its points.
const EACH_SIDE: usize = 3;
/// Where the best break lies at the end of what that allows, the side beyond may keep so many: a break that stands out has then its place,
/// and not that of the rule.
const LEAST_SIDE: usize = 2;
/// Parameters of the broken line: one value, two slopes, the break.
const PARAMETERS: usize = 4;

/// Two straight lines that meet at `x_break`, by least squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BrokenLine {
    /// Where the lines meet.
    pub x_break: f64,
    /// Standard uncertainty of `x_break`; `NaN` if the points lie on the lines exactly, or the slopes do not differ.
    pub u_break: f64,
    /// Value at the break.
    pub y_break: f64,
    /// Slope left of the break.
    pub slope_left: f64,
    /// Slope right of the break.
    pub slope_right: f64,
    /// Standard uncertainties of the two slopes, left and right.
    pub u_slopes: (f64, f64),
    /// Sum of squared residuals of the broken line.
    pub sum_of_squares: f64,
    /// Sum of squared residuals of one straight line through all points.
    pub sum_of_squares_unbroken: f64,
    /// `((SS1 - SS2)/2) / (SS2/(n - 4))`: like an F value for the two parameters that the break costs. It does not follow the F
    /// distribution where there is no break (the break then has no place), its upper quantiles are higher: use it with a margin.
    pub improvement: f64,
    /// Number of points.
    pub n: usize,
}

/// Sums over the points of one side, about the overall means.
#[derive(Clone, Copy, Default)]
struct Sums {
    n: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

impl Sums {
    fn plus(self, x: f64, y: f64) -> Self {
        Self {
            n: self.n + 1.0,
            x: self.x + x,
            y: self.y + y,
            xx: self.xx + x * x,
            xy: self.xy + x * y,
            yy: self.yy + y * y,
        }
    }

    fn minus(self, o: Self) -> Self {
        Self {
            n: self.n - o.n,
            x: self.x - o.x,
            y: self.y - o.y,
            xx: self.xx - o.xx,
            xy: self.xy - o.xy,
            yy: self.yy - o.yy,
        }
    }

    /// Intercept, slope and sum of squares of the line through these points.
    fn line(self) -> (f64, f64, f64) {
        let (mx, my) = (self.x / self.n, self.y / self.n);
        let sxx = self.xx - self.n * mx * mx;
        let sxy = self.xy - self.n * mx * my;
        let slope = sxy / sxx;
        let rest = self.yy - self.n * my * my - slope * sxy;
        (my - slope * mx, slope, rest.max(0.0))
    }

    /// The same sums with `x` measured from `c`.
    fn about(self, c: f64) -> Self {
        Self {
            x: self.x - self.n * c,
            xx: self.xx - 2.0 * c * self.x + self.n * c * c,
            xy: self.xy - c * self.y,
            ..self
        }
    }
}

/// Value at the break, the two slopes and the sum of squares for a break held at `c`: three linear parameters, solved directly.
fn held_at(left: Sums, right: Sums, c: f64) -> Option<(f64, f64, f64, f64)> {
    let (l, r) = (left.about(c), right.about(c));
    if l.xx <= 0.0 || r.xx <= 0.0 {
        return None;
    }
    let n = l.n + r.n - l.x * l.x / l.xx - r.x * r.x / r.xx;
    let t = l.y + r.y - l.x * l.xy / l.xx - r.x * r.xy / r.xx;
    let value = t / n;
    let slope_left = (l.xy - value * l.x) / l.xx;
    let slope_right = (r.xy - value * r.x) / r.xx;
    let rest = l.yy + r.yy - value * (l.y + r.y) - slope_left * l.xy - slope_right * r.xy;
    (n > 0.0 && rest.is_finite()).then_some((value, slope_left, slope_right, rest.max(0.0)))
}

/// Finds the two joined straight lines of least squares through the points, in any order of `x`.
///
/// For every gap between neighbouring `x` the best break is either where the two separate lines meet, if that is inside the gap, or one of
/// its ends (Hudson 1966, JASA 61:1097): the least of all is found exactly, without a search grid, in time proportional to sorting.
/// At least three different `x` are kept on each side; two on the side of a break that would otherwise lie on the third.
pub fn broken_line(x: &[f64], y: &[f64]) -> Result<BrokenLine, FitError> {
    check_length("y", x.len(), y.len())?;
    check_finite("x", x)?;
    check_finite("y", y)?;
    let n = x.len();
    let mut points: Vec<(f64, f64)> = x.iter().copied().zip(y.iter().copied()).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mean_x = points.iter().map(|p| p.0 / n as f64).sum::<f64>();
    let mean_y = points.iter().map(|p| p.1 / n as f64).sum::<f64>();
    // Sums over all points up to and with each different x.
    let mut runs: Vec<(f64, Sums)> = Vec::new();
    let mut sums = Sums::default();
    for &(px, py) in &points {
        let px = px - mean_x;
        sums = sums.plus(px, py - mean_y);
        match runs.last_mut() {
            Some(last) if last.0 == px => last.1 = sums,
            _ => runs.push((px, sums)),
        }
    }
    if runs.len() < 2 * EACH_SIDE || n <= PARAMETERS {
        return Err(FitError::TooFewPoints {
            needed: (2 * EACH_SIDE).max(PARAMETERS + 1),
            found: runs.len(),
        });
    }
    let few = FitError::TooFewPoints {
        needed: 2 * EACH_SIDE,
        found: runs.len(),
    };
    let c = best_break(&runs, EACH_SIDE, EACH_SIDE).ok_or(few)?;
    let end = |from: usize| runs.get(from).is_some_and(|run| run.0 == c);
    let sides = (
        if end(EACH_SIDE - 1) {
            LEAST_SIDE
        } else {
            EACH_SIDE
        },
        if end(runs.len() - EACH_SIDE) {
            LEAST_SIDE
        } else {
            EACH_SIDE
        },
    );
    let c = best_break(&runs, sides.0, sides.1).unwrap_or(c);
    finish(&points, (mean_x, mean_y), c, sums.line().2)
}

/// The best break that keeps so many different `x` on either side. `runs`: each different `x` with the sums over all points up to it.
fn best_break(runs: &[(f64, Sums)], left_side: usize, right_side: usize) -> Option<f64> {
    let total = runs.last()?.1;
    let mut best: Option<(f64, f64)> = None;
    let mut offer = |c: f64, left: Sums, right: Sums| {
        if let Some((_, _, _, rest)) = held_at(left, right, c)
            && best.is_none_or(|(_, least)| rest < least)
        {
            best = Some((c, rest));
        }
    };
    let gaps = runs
        .windows(2)
        .skip(left_side - 1)
        .take((runs.len() + 1).saturating_sub(left_side + right_side));
    for gap in gaps {
        let &[(lower, left), (upper, _)] = gap else {
            continue;
        };
        let right = total.minus(left);
        offer(lower, left, right);
        offer(upper, left, right);
        let ((a1, b1, _), (a2, b2, _)) = (left.line(), right.line());
        let meet = (a1 - a2) / (b2 - b1);
        if meet > lower && meet < upper {
            offer(meet, left, right);
        }
    }
    best.map(|(c, _)| c)
}

/// Refits at the break found, by a design matrix in full precision, and adds the uncertainties.
fn finish(
    points: &[(f64, f64)],
    means: (f64, f64),
    c: f64,
    unbroken: f64,
) -> Result<BrokenLine, FitError> {
    let n = points.len();
    let x: Vec<f64> = points.iter().map(|p| p.0 - means.0 - c).collect();
    let y: Vec<f64> = points.iter().map(|p| p.1 - means.1).collect();
    let design = ndarray::Array2::from_shape_fn((n, 3), |(i, j)| match j {
        0 => 1.0,
        1 => x[i].min(0.0),
        _ => x[i].max(0.0),
    });
    let fit = super::linear_least_squares(&design, &y, None)?;
    let [value, slope_left, slope_right] = fit.parameters[..] else {
        return Err(FitError::NoParameters);
    };
    // Derivative of the curve with respect to the break itself, beside the other three: minus the slope of the side.
    let full = ndarray::Array2::from_shape_fn((n, PARAMETERS), |(i, j)| match j {
        3 if x[i] <= 0.0 => -slope_left,
        3 => -slope_right,
        _ => design[(i, j)],
    });
    let variance = fit.sum_of_squares / (n - PARAMETERS) as f64;
    let spread = super::linear_least_squares(&full, &y, None).ok();
    let u = |j: usize| {
        let v = spread
            .as_ref()
            .map_or(f64::NAN, |s| s.covariance_as_weighted[(j, j)] * variance);
        if v > 0.0 { v.sqrt() } else { f64::NAN }
    };
    Ok(BrokenLine {
        x_break: c + means.0,
        u_break: u(3),
        y_break: value + means.1,
        slope_left,
        slope_right,
        u_slopes: (u(1), u(2)),
        sum_of_squares: fit.sum_of_squares,
        sum_of_squares_unbroken: unbroken,
        improvement: 0.5 * (unbroken - fit.sum_of_squares).max(0.0) / variance,
        n,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_break_between_points_is_found_exactly() {
        let x: Vec<f64> = (0..20).map(f64::from).collect();
        let y: Vec<f64> = x
            .iter()
            .map(|&x| {
                if x < 7.3 {
                    1.0 + x
                } else {
                    8.3 + 0.2 * (x - 7.3)
                }
            })
            .collect();
        let b = broken_line(&x, &y).unwrap();
        assert!((b.x_break - 7.3).abs() < 1e-9, "{b:?}");
        assert!((b.slope_left - 1.0).abs() < 1e-9 && (b.slope_right - 0.2).abs() < 1e-9);
        assert!(b.improvement > 1e6);
    }

    #[test]
    fn a_break_before_the_third_point_is_found_where_it_is() {
        let bent = |x: f64| if x < 1.6 { x } else { 1.6 + 8.0 * (x - 1.6) };
        let x: Vec<f64> = (0..9).map(f64::from).collect();
        for mirror in [1.0, -1.0] {
            let x: Vec<f64> = x.iter().map(|x| mirror * x).collect();
            let y: Vec<f64> = x.iter().map(|x| bent(mirror * x)).collect();
            let b = broken_line(&x, &y).unwrap();
            assert!((b.x_break - mirror * 1.6).abs() < 1e-9, "{b:?}");
        }
    }

    #[test]
    fn a_grid_of_breaks_finds_nothing_better() {
        let x: Vec<f64> = (0..30).map(|i| f64::from(i) * 0.37).collect();
        let y: Vec<f64> = x
            .iter()
            .map(|&x| (0.3 * x).sin() + 0.05 * (9.0 * x).cos())
            .collect();
        let b = broken_line(&x, &y).unwrap();
        for k in 0..=400 {
            let c = x[2] + (x[27] - x[2]) * f64::from(k) / 400.0;
            let design = ndarray::Array2::from_shape_fn((30, 3), |(i, j)| match j {
                0 => 1.0,
                1 => x[i],
                _ => (x[i] - c).max(0.0),
            });
            let held = super::super::linear_least_squares(&design, &y, None).unwrap();
            assert!(
                held.sum_of_squares >= b.sum_of_squares * (1.0 - 1e-9),
                "break {c}"
            );
        }
    }

    #[test]
    fn a_straight_line_shows_little_improvement() {
        let x: Vec<f64> = (0..50).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|&x| 0.5 * x + (37.0 * x * x).sin()).collect();
        assert!(broken_line(&x, &y).unwrap().improvement < 10.0);
    }

    #[test]
    fn too_little_is_refused() {
        assert!(broken_line(&[1.0, 2.0, 3.0, 4.0, 5.0], &[1.0; 5]).is_err());
        assert!(broken_line(&[1.0; 50], &[1.0; 50]).is_err());
        assert!(broken_line(&[], &[]).is_err());
    }
}
