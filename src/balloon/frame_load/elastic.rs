//! The elastic slope of a frame over a stated window of loads.

use super::{LoadInput, LoadPoint, Moved};
use crate::fit::{Line, straight_line};
use crate::uncertain::{Quantity, widened};

/// The compliance is taken between these shares of the highest load before yield or fracture.
const COMPLIANCE_WINDOW: (f64, f64) = (0.2, 0.6);
/// Fewest points of a compliance.
const FEWEST: usize = 3;

/// Loads (kPa) and diameters (mm) of the window.
fn window(points: &[LoadPoint], elastic_end: f64) -> (Vec<f64>, Vec<f64>) {
    let elastic = || points.iter().filter(|p| p.load_kpa <= elastic_end);
    let top = elastic().map(|p| p.load_kpa).fold(0.0, f64::max);
    let (from, to) = (COMPLIANCE_WINDOW.0 * top, COMPLIANCE_WINDOW.1 * top);
    elastic()
        .filter(|p| p.load_kpa >= from && p.load_kpa <= to)
        .map(|p| (p.load_kpa, p.diameter_mm))
        .unzip()
}

/// Straight line of diameter (mm) on load (kPa) through the points of the window, its uncertainties widened for few points; `elastic_end` is
/// the load at which yield begins, kPa.
pub fn elastic_line(points: &[LoadPoint], elastic_end: f64) -> Option<Line> {
    let (x, y) = window(points, elastic_end);
    if x.len() < FEWEST {
        return None;
    }
    let line = straight_line(&x, &y, None).ok()?;
    let wider = widened((x.len() - 2) as f64);
    Some(Line {
        sd: line.sd * wider,
        u_intercept: line.u_intercept * wider,
        u_slope: line.u_slope * wider,
        covariance: line.covariance * wider * wider,
        ..line
    })
}

/// The compliance, mm/kPa. Beside the scatter about the line count what errs for all diameters alike and the gain of the pressure channel.
pub(super) fn compliance(
    input: &LoadInput<'_>,
    moved: &Moved,
    points: &[LoadPoint],
    elastic_end: f64,
) -> Quantity {
    let Some(line) = elastic_line(points, elastic_end) else {
        return Quantity::missing(
            "mm/kPa",
            "fewer than three points between 20 and 60 % of the load before yield",
        );
    };
    let common = moved.spread(&|p| Some(elastic_line(p, elastic_end)?.slope));
    let u = line
        .u_slope
        .hypot(common)
        .hypot(input.trace.u_pressure_rel * line.slope);
    Quantity::known(
        line.slope,
        u,
        "mm/kPa",
        "straight line of diameter on load between 20 and 60 % of the load before yield",
    )
}
