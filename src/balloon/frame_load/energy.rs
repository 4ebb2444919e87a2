//! Energy: work done on the ring, what of it the ring stores, and what the line gives up at a snap. 1 kPa mL = 1 N mm = 1 mJ.

use super::elastic::{COMMON, elastic_from_before, elastic_line};
use super::{LEAST_LOAD_KPA, LoadInput, LoadPoint, Moved};
use crate::balloon::LineModel;
use crate::uncertain::{Budget, Budgeted, Component};
use std::f64::consts::PI;

/// The sizes of a frame are listed to a tenth of a millimetre (common practice, no source): standard uncertainty of that rectangle, mm.
pub const LISTED_U_MM: f64 = 0.05 / 1.732_050_807_568_877_2;

/// Work done on a ring of height `band_mm` along points of load and diameter, mJ: `∫ load L (π D / 2) dD`, the load acting on the ring as
/// hoop force `load D L / 2` along its length π D; straight between points. From the unloaded diameter on, where one is given.
pub fn ring_work(points: &[LoadPoint], unloaded_mm: Option<f64>, band_mm: f64) -> f64 {
    let start = unloaded_mm.map(|d| (0.0, d));
    let all: Vec<(f64, f64)> = start
        .into_iter()
        .chain(points.iter().map(|p| (p.load_kpa, p.diameter_mm)))
        .collect();
    all.windows(2)
        .map(|pair| match pair {
            [(p0, d0), (p1, d1)] => {
                0.5 * (p0 * d0 + p1 * d1) * (d1 - d0) * 0.5 * PI * band_mm * 1e-3
            }
            _ => 0.0,
        })
        .sum()
}

/// Work up to the last point, mJ: the elastic line down to no load is where the loading began.
pub(super) fn work_to_last(points: &[LoadPoint], elastic_end: f64, band_mm: f64) -> Option<f64> {
    let unloaded = elastic_line(points, elastic_end).ok()?.intercept;
    Some(ring_work(points, Some(unloaded), band_mm))
}

/// Elastic energy at the last point, mJ: half its load times what the frame opens elastically by it.
pub(super) fn stored_elastically(
    points: &[LoadPoint],
    elastic_end: f64,
    band_mm: f64,
) -> Option<f64> {
    let (line, last) = (elastic_line(points, elastic_end).ok()?, points.last()?);
    let length = 0.5 * PI * last.diameter_mm;
    Some(0.5 * last.load_kpa.powi(2) * line.slope * length * band_mm * 1e-3)
}

/// Work and stored energy of a loading.
pub(super) struct Spent {
    pub work: Budgeted,
    pub stored: Budgeted,
}

impl Spent {
    pub fn of(
        input: &LoadInput<'_>,
        moved: &Moved,
        points: &[LoadPoint],
        elastic_end: f64,
    ) -> Self {
        let missing = |reason: &str| Self {
            work: Budgeted::missing("mJ", reason),
            stored: Budgeted::missing("mJ", reason),
        };
        let Some(band) = input.band_height_mm else {
            return missing("the band height of the frame is not listed");
        };
        let Some(last) = points.last() else {
            return missing("no quasi-static point before the first event");
        };
        let line = match elastic_from_before(input, moved, points, elastic_end) {
            Ok(line) => line,
            Err(why) => return missing(&format!("no elastic line: {why}")),
        };
        let work = |p: &[LoadPoint]| work_to_last(p, elastic_end, band);
        let stored = |p: &[LoadPoint]| stored_elastically(p, elastic_end, band);
        let of = |figure: &dyn Fn(&[LoadPoint]) -> Option<f64>, scatter: f64, text: &str| {
            let Some(value) = figure(points) else {
                return Budgeted::missing("mJ", "no elastic line");
            };
            // What the pressure errs by; what the diameters do to the loads is in the points moved.
            let own = input.trace.u_pressure_at(last.pressure_kpa, last.t_s);
            let load = own / last.load_kpa.max(LEAST_LOAD_KPA);
            let height = Component::normal("height of the band", LISTED_U_MM);
            let budget = Budget::new()
                .with(Component::normal("pressure", load).sensitivity(value))
                .with(height.sensitivity(value / band))
                .with(Component::normal("scatter of the diameters", scatter))
                .with(Component::normal(COMMON, moved.spread(figure)));
            Budgeted::known(value, budget, "mJ", text)
        };
        let slope = line.u_slope / line.slope;
        // The end of the path scatters as a diameter does; what scatters between falls out of a sum of pieces.
        let force = last.load_kpa * last.diameter_mm * band * 0.5 * PI * 1e-3;
        let at_end = force * line.sd;
        let stored_scatter = stored(points).map_or(f64::NAN, |e| e * slope);
        Self {
            work: of(
                &work,
                at_end,
                "load times half the diameter over the ring's growing length, up to the last rest before the first event, over the band height: a lower bound, the shoulders of the balloon pull too",
            ),
            stored: of(
                &stored,
                stored_scatter,
                "half the load at the last rest before the first event times what the frame opens elastically by it, over the band height: a lower bound",
            ),
        }
    }
}

/// Energy that a line gives up when the pressure falls, mJ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineEnergy {
    /// Of the elastic line: `C (p1² - p2²) / 2`.
    pub elastic_mj: f64,
    /// Of its trapped air: `∫ p dV = V_air p_a [ln(p + p_a) + p_a / (p + p_a)]` from p2 to p1, at constant temperature.
    pub air_mj: f64,
}

impl LineEnergy {
    /// Both together, mJ.
    pub fn total(self) -> f64 {
        self.elastic_mj + self.air_mj
    }

    /// Variance of that by compliance and air of the fitted line, mJ²: both parts are in proportion to one of them.
    pub fn variance(self, line: &LineModel) -> f64 {
        let [var_c, var_air, both] = line.covariance;
        let by_c = share(self.elastic_mj, line.compliance_ml_per_kpa);
        let by_air = share(self.air_mj, line.air_ml);
        by_c * by_c * var_c + by_air * by_air * var_air + 2.0 * by_c * by_air * both
    }
}

/// A part over what it is in proportion to; nothing where that is nothing.
fn share(part: f64, of: f64) -> f64 {
    if of == 0.0 { 0.0 } else { part / of }
}

/// What a line gives up between two gauge pressures (kPa), p1 before and p2 after: `∫ p dV_line`, which it does as work on the balloon.
pub fn line_energy(line: &LineModel, p1: f64, p2: f64) -> LineEnergy {
    let ambient = line.ambient_kpa;
    let air = |p: f64| line.air_ml * ambient * ((p + ambient).ln() + ambient / (p + ambient));
    LineEnergy {
        elastic_mj: 0.5 * line.compliance_ml_per_kpa * (p1 * p1 - p2 * p2),
        air_mj: air(p1) - air(p2),
    }
}
