//! Centre, scatter and straight lines that a few wild points do not upset.

use super::error::{FitError, check_finite, check_length};
use super::straight_line::{Line, straight_line};

/// `1 / Φ⁻¹(3/4)`: makes the median absolute deviation of normal data their standard deviation.
pub(super) const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;
/// Tukey's biweight keeps 95 % of the efficiency of least squares on normal data with this many sigmas (Holland & Welsch 1977).
pub(super) const BIWEIGHT: f64 = 4.685;
/// All pairs of up to this many points are looked at; of more, as many evenly spaced ones (two million slopes take 16 MB).
const MOST_POINTS: usize = 2000;

/// Median; the mean of the two middle values for an even number. `None` for no values or a `NaN` among them.
pub fn median(values: &[f64]) -> Option<f64> {
    if values.iter().any(|v| v.is_nan()) {
        return None;
    }
    let mut sorted = values.to_vec();
    median_in_place(&mut sorted)
}

/// As [`median`], of values that are no `NaN`; changes their order.
fn median_in_place(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let (low, &mut upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return Some(upper);
    }
    let lower = low.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * lower + 0.5 * upper)
}

/// Standard deviation from the median absolute deviation about the median (1.4826 MAD): right for normal data, and unmoved by up to
/// half of them being wild. `None` as for [`median`]; zero if more than half of the values are equal.
pub fn mad_sigma(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    let mut off: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    median_in_place(&mut off).map(|m| MAD_TO_SIGMA * m)
}

/// Straight line whose slope is the median of the slopes between all pairs of points, and whose intercept is the median of `y - slope x`
/// (Theil 1950; Sen 1968, JASA 63:1379). Gives intercept and slope.
///
/// Of more than 2000 points as many evenly spaced ones give the slope.
pub fn theil_sen(x: &[f64], y: &[f64]) -> Result<(f64, f64), FitError> {
    check_length("y", x.len(), y.len())?;
    check_finite("x", x)?;
    check_finite("y", y)?;
    let n = x.len();
    let points: Vec<(f64, f64)> = if n <= MOST_POINTS {
        x.iter().copied().zip(y.iter().copied()).collect()
    } else {
        (0..MOST_POINTS)
            .filter_map(|k| {
                let i = k * (n - 1) / (MOST_POINTS - 1);
                Some((*x.get(i)?, *y.get(i)?))
            })
            .collect()
    };
    let mut slopes = Vec::with_capacity(points.len() * points.len().saturating_sub(1) / 2);
    for (i, &(xi, yi)) in points.iter().enumerate() {
        for &(xj, yj) in points.iter().skip(i + 1) {
            let slope = (yj - yi) / (xj - xi);
            if xj != xi && slope.is_finite() {
                slopes.push(slope);
            }
        }
    }
    let slope = median_in_place(&mut slopes).ok_or(FitError::TooFewPoints {
        needed: 2,
        found: usize::from(n > 0),
    })?;
    let mut rests: Vec<f64> = x.iter().zip(y).map(|(x, y)| y - slope * x).collect();
    let intercept = median_in_place(&mut rests).unwrap_or(f64::NAN);
    Ok((intercept, slope))
}

/// Straight line that wild points do not upset, with uncertainties.
///
/// Starts from [`theil_sen`], then weights every point by Tukey's biweight of its residual (in units of 1.4826 MAD) and repeats until
/// the line rests. `sd` is the scatter of the points that count; the uncertainties are those of the weighted line. If the points lie on
/// the line so exactly that more than half of the residuals vanish, those on it alone count.
pub fn robust_line(x: &[f64], y: &[f64]) -> Result<Line, FitError> {
    /// The line rests long before this on any data seen; a cycle would be cut here.
    const ROUNDS: usize = 50;
    let (intercept, slope) = theil_sen(x, y)?;
    let bare = Line {
        intercept,
        slope,
        sd: f64::NAN,
        u_intercept: f64::NAN,
        u_slope: f64::NAN,
        covariance: f64::NAN,
    };
    if x.len() < 3 {
        return Ok(bare);
    }
    let mut line = bare;
    for _ in 0..ROUNDS {
        let rests: Vec<f64> = x.iter().zip(y).map(|(&x, &y)| y - line.at(x)).collect();
        let size = y.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        // Residuals of an exact line are rounding errors; below that there is no scatter to divide by.
        let sigma = mad_sigma(&rests)
            .unwrap_or(0.0)
            .max(8.0 * f64::EPSILON * size);
        let mut kept_x = Vec::new();
        let mut kept_y = Vec::new();
        let mut weights = Vec::new();
        for ((&x, &y), r) in x.iter().zip(y).zip(&rests) {
            let t = if sigma > 0.0 {
                r / (BIWEIGHT * sigma)
            } else {
                0.0
            };
            if t.abs() < 0.999 {
                kept_x.push(x);
                kept_y.push(y);
                weights.push((1.0 - t * t).powi(2));
            }
        }
        let Ok(mut next) = straight_line(&kept_x, &kept_y, Some(&weights)) else {
            return Ok(line);
        };
        // The weighted sum of squares understates the scatter: the robust scale is the better one.
        let growth = if next.sd > 0.0 {
            (sigma / next.sd).max(1.0)
        } else {
            1.0
        };
        next.sd *= growth;
        next.u_intercept *= growth;
        next.u_slope *= growth;
        next.covariance *= growth * growth;
        let rested = (next.slope - line.slope).abs() <= 1e-8 * next.slope.abs().max(next.u_slope)
            && (next.intercept - line.intercept).abs()
                <= 1e-8 * next.intercept.abs().max(next.u_intercept);
        line = next;
        if rested {
            break;
        }
    }
    Ok(line)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn medians() {
        assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&[4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&[]), None);
        assert_eq!(median(&[1.0, f64::NAN]), None);
    }

    #[test]
    fn wild_points_do_not_move_the_line() {
        let x: Vec<f64> = (0..40).map(f64::from).collect();
        // A deterministic scatter of +/- 0.1 about 2 + 0.5 x, and every fifth point 50 too high.
        let y: Vec<f64> = x
            .iter()
            .enumerate()
            .map(|(i, x)| {
                2.0 + 0.5 * x + 0.1 * (1.7 * x).sin() + if i % 5 == 0 { 50.0 } else { 0.0 }
            })
            .collect();
        let line = robust_line(&x, &y).unwrap();
        assert!(
            (line.slope - 0.5).abs() < 3.0 * line.u_slope.max(1e-3),
            "{line:?}"
        );
        assert!((line.intercept - 2.0).abs() < 0.1, "{line:?}");
        assert!(line.sd > 0.03 && line.sd < 0.2, "{line:?}");
        // Least squares is off by ten.
        assert!((straight_line(&x, &y, None).unwrap().intercept - 2.0).abs() > 5.0);
    }

    #[test]
    fn many_points_stay_within_memory() {
        let x: Vec<f64> = (0..50_000).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|x| 1.0 - 0.25 * x).collect();
        let line = robust_line(&x, &y).unwrap();
        assert!((line.slope + 0.25).abs() < 1e-9);
    }

    #[test]
    fn no_line_through_one_x() {
        assert!(robust_line(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0]).is_err());
        assert!(robust_line(&[], &[]).is_err());
        assert!(robust_line(&[1.0], &[1.0, 2.0]).is_err());
    }
}
