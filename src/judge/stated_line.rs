//! A line between two methods by the uncertainty that each diameter states: beside Deming's, which knows one ratio for all pairs only.
//!
//! Its sum of squares says whether what the methods state explains how they differ, which the scatter of a Deming line cannot.

use super::strength::interval;
use crate::fit::{Model, UncertainPoints, fit_both_errors};
use crate::recording::StatedLine;
use crate::stats::{Limits, normal_quantile};
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Parameters of the line.
const PARAMETERS: [&str; 2] = ["intercept_mm", "slope"];

struct Straight {
    /// Middle of the first diameters, mm: the line is fitted about it, so that its parameters are hardly correlated.
    middle: f64,
}

impl Model for Straight {
    fn names(&self) -> &[&str] {
        &PARAMETERS
    }

    fn value(&self, params: &[f64], x: f64) -> f64 {
        match params {
            [at_middle, slope] => at_middle + slope * (x - self.middle),
            _ => f64::NAN,
        }
    }

    fn gradient(&self, _params: &[f64], x: f64, out: &mut [f64]) {
        for (slot, value) in out.iter_mut().zip([1.0, x - self.middle]) {
            *slot = value;
        }
    }
}

/// The line of the second on the first diameters (mm), each with its standard uncertainty (mm, above zero).
///
/// # Errors
/// Why there is none.
pub(super) fn stated_line(
    (first, u_first): (&[f64], &[f64]),
    (second, u_second): (&[f64], &[f64]),
    confidence: f64,
) -> Result<StatedLine, String> {
    let middle = first.iter().sum::<f64>() / first.len() as f64;
    let points = UncertainPoints {
        x: first,
        y: second,
        u_x: u_first,
        u_y: u_second,
    };
    let model = Straight { middle };
    let found = fit_both_errors(&model, points, &[middle, 1.0], None).map_err(|e| e.to_string())?;
    let (fit, covariance) = (&found.fit, &found.fit.covariance_as_weighted);
    let [at_middle, slope] = fit.parameters[..] else {
        return Err("the line has other parameters than two".to_owned());
    };
    if fit.dof == 0 || !fit.stop.converged() {
        return Err(format!("{} pairs tell no line", first.len()));
    }
    let u_slope = covariance[(1, 1)].sqrt();
    let variance = covariance[(0, 0)] - 2.0 * middle * covariance[(0, 1)]
        + middle * middle * covariance[(1, 1)];
    let z = normal_quantile(0.5 + 0.5 * confidence);
    let of = |value: f64, u: f64, unit: &str| {
        let limits = Limits {
            lower: value - z * u,
            upper: value + z * u,
        };
        let method = "orthogonal distances in units of the stated uncertainties (York et al. 2004)";
        interval(value, Ok(limits), confidence, unit, method)
    };
    let chance = ChiSquared::new(fit.dof as f64).map_err(|e| e.to_string())?;
    Ok(StatedLine {
        slope: of(slope, u_slope, "1"),
        intercept: of(at_middle - slope * middle, variance.max(0.0).sqrt(), "mm"),
        chi_squared: fit.sum_of_squares,
        dof: fit.dof,
        p: chance.sf(fit.sum_of_squares),
    })
}
