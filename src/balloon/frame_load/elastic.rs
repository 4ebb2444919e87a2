//! The elastic slope of a frame over a stated window of loads.

use super::{LoadInput, LoadPoint, Moved};
use crate::fit::{Line, straight_line};
use crate::uncertain::{Budget, Budgeted, Component, widened};

/// The compliance is taken between these shares of the highest load before yield or fracture.
const COMPLIANCE_WINDOW: (f64, f64) = (0.2, 0.6);
/// A line misses the diameter before by so many standard uncertainties where it is none of an elastic frame: by chance one in 30 000.
const OFF_SIGMAS: f64 = 4.0;
/// Fewest points of a compliance.
const FEWEST: usize = 3;

/// What errs for all diameters alike, in a budget.
pub(super) const COMMON: &str = "what all diameters have in common";
/// What the gain of the pressure channel does, in a budget.
pub(super) const GAIN: &str = "gain of the pressure";
/// Why there is no line.
const TOO_FEW: &str = "fewer than three points between 20 and 60 % of the load before yield";
const NOT_GROWING: &str = "between 20 and 60 % of the load before yield the diameter does not grow with the load: it scatters by more than the frame opens";

/// Points of the window.
fn window(points: &[LoadPoint], elastic_end: f64) -> Vec<&LoadPoint> {
    let elastic = || points.iter().filter(|p| p.load_kpa <= elastic_end);
    let top = elastic().map(|p| p.load_kpa).fold(0.0, f64::max);
    let (from, to) = (COMPLIANCE_WINDOW.0 * top, COMPLIANCE_WINDOW.1 * top);
    elastic()
        .filter(|p| p.load_kpa >= from && p.load_kpa <= to)
        .collect()
}

/// Straight line of diameter (mm) on load (kPa) through the points of the window; `elastic_end` is the load at which yield begins, kPa. Its
/// uncertainties are widened for few points, and not less than what each diameter errs by itself makes them: three points may lie on a line
/// by chance, and those of a camera stand on a grid.
///
/// # Errors
/// Why there is none.
pub fn elastic_line(points: &[LoadPoint], elastic_end: f64) -> Result<Line, &'static str> {
    let points = window(points, elastic_end);
    if points.len() < FEWEST {
        return Err(TOO_FEW);
    }
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().map(|p| (p.load_kpa, p.diameter_mm)).unzip();
    let line = straight_line(&x, &y, None).map_err(|_| TOO_FEW)?;
    if line.slope.is_nan() || line.slope <= 0.0 {
        return Err(NOT_GROWING);
    }
    let n = x.len() as f64;
    let wider = widened(n - 2.0);
    let own = (points.iter().map(|p| p.own_mm.powi(2)).sum::<f64>() / n).sqrt();
    let sd = (line.sd * wider).max(own);
    let mean = x.iter().sum::<f64>() / n;
    let spread = x.iter().map(|x| (x - mean).powi(2)).sum::<f64>();
    Ok(Line {
        sd,
        u_intercept: sd * (1.0 / n + mean * mean / spread).sqrt(),
        u_slope: sd / spread.sqrt(),
        covariance: -sd * sd * mean / spread,
        ..line
    })
}

/// The line, where it is that of an elastic frame: drawn down to no load it meets the diameter that was measured before. Beyond yield the
/// diameter grows faster, and the line meets less.
pub(super) fn elastic_from_before(
    input: &LoadInput<'_>,
    moved: &Moved,
    points: &[LoadPoint],
    elastic_end: f64,
) -> Result<Line, String> {
    let line = elastic_line(points, elastic_end)?;
    let Some((before, u_before)) = input.before else {
        return Ok(line);
    };
    let short = before - line.intercept;
    let common = moved.spread(&|p| Some(elastic_line(p, elastic_end).ok()?.intercept));
    let u = u_before.hypot(line.u_intercept).hypot(common);
    if short > OFF_SIGMAS * u && short > input.yield_offset_share * before {
        return Err(format!(
            "the line between 20 and 60 % of the load, drawn down to no load, meets {:.2} mm and not the {before:.2} mm measured before: the frame yielded before it, and its elastic part was not seen",
            line.intercept
        ));
    }
    Ok(line)
}

/// The compliance, mm/kPa. Beside the scatter about the line count what errs for all diameters alike and the gain of the pressure channel.
pub(super) fn compliance(
    input: &LoadInput<'_>,
    moved: &Moved,
    points: &[LoadPoint],
    elastic_end: f64,
) -> Budgeted {
    let line = match elastic_from_before(input, moved, points, elastic_end) {
        Ok(line) => line,
        Err(why) => return Budgeted::missing("mm/kPa", why),
    };
    let common = moved.spread(&|p| Some(elastic_line(p, elastic_end).ok()?.slope));
    let gain = Component::normal(GAIN, input.trace.u_pressure_rel);
    let budget = Budget::new()
        .with(Component::normal("scatter about the line", line.u_slope))
        .with(Component::normal(COMMON, common))
        .with(gain.sensitivity(line.slope));
    Budgeted::known(
        line.slope,
        budget,
        "mm/kPa",
        "straight line of diameter on load between 20 and 60 % of the load before yield",
    )
}
