//! The line and the free balloon as the results of an earlier analysis tell them.

use super::earlier::{Balloon, Curve, Line};
use crate::uncertain::Quantity;

/// Pressures nearer than this are the same, kPa: labels are whole atmospheres.
const SAME_KPA: f64 = 1e-6;
/// Words of `source` where the maker's chart stands for the balloon.
const CHART: &str = "maker's chart";

/// Diameters and volumes of a free balloon.
#[derive(Debug, Clone)]
pub(super) struct FreeCurve<'b> {
    balloon: &'b Balloon,
    /// Gauge pressure, kPa, and diameter, mm, both rising.
    diameters: Vec<(f64, f64)>,
    /// Gauge pressure, kPa, and volume, mL.
    volumes: Vec<(f64, f64)>,
}

fn pairs(x: &[Option<f64>], y: &[Option<f64>]) -> Vec<(f64, f64)> {
    x.iter().zip(y).filter_map(|(x, y)| x.zip(*y)).collect()
}

/// Straight between points of rising x; `None` outside.
fn between(points: impl Iterator<Item = (f64, f64)>, x: f64) -> Option<f64> {
    let mut before: Option<(f64, f64)> = None;
    for (x1, y1) in points {
        if (x1 - x).abs() <= SAME_KPA {
            return Some(y1);
        }
        if let Some((x0, y0)) = before.filter(|b| b.0 < x && x < x1) {
            return Some(y0 + (y1 - y0) * (x - x0) / (x1 - x0));
        }
        before = Some((x1, y1));
    }
    None
}

impl<'b> FreeCurve<'b> {
    pub(super) fn new(balloon: &'b Balloon) -> Self {
        let Curve {
            pressure_kpa,
            diameter_mm,
            volume_ml,
        } = &balloon.curve;
        let unfolded = balloon.unfolded_diameter.value.map(|d| (0.0, d));
        let mut diameters: Vec<(f64, f64)> = unfolded.into_iter().collect();
        for (p, d) in pairs(pressure_kpa, diameter_mm) {
            if diameters.last().is_none_or(|last| p > last.0 && d > last.1) {
                diameters.push((p, d));
            }
        }
        Self {
            balloon,
            diameters,
            volumes: pairs(pressure_kpa, volume_ml),
        }
    }

    /// Highest pressure of its table, kPa.
    pub(super) fn top_kpa(&self) -> f64 {
        let pressures = self.balloon.table.iter().map(|row| row.pressure_kpa);
        pressures.fold(f64::NEG_INFINITY, f64::max)
    }

    /// Diameter of the free balloon, mm, from its table: at a row as it stands; between rows straight, with what the written curve stands off
    /// there in the uncertainty.
    pub(super) fn diameter(&self, pressure_kpa: f64) -> Quantity {
        let table = &self.balloon.table;
        let at = table.partition_point(|row| row.pressure_kpa < pressure_kpa - SAME_KPA);
        let Some(above) = table.get(at) else {
            return Quantity::missing("mm", "the balloon was not inflated so far");
        };
        let method = || format!("free balloon, {}", self.source());
        let known = |value: Option<f64>, u: Option<f64>, reason: &Option<String>| {
            let why = || {
                reason
                    .clone()
                    .unwrap_or_else(|| "the results give none".to_owned())
            };
            match (value, u) {
                (Some(value), Some(u)) => Quantity::known(value, u, "mm", method()),
                (Some(value), None) => Quantity::without_u(value, "mm", method(), why()),
                (None, _) => Quantity::missing("mm", why()),
            }
        };
        let high = &above.diameter;
        if (above.pressure_kpa - pressure_kpa).abs() <= SAME_KPA {
            return known(high.value, high.u, &high.reason);
        }
        let Some(below) = at.checked_sub(1).and_then(|at| table.get(at)) else {
            return Quantity::missing("mm", "the table of the balloon begins above");
        };
        let low = &below.diameter;
        let width = above.pressure_kpa - below.pressure_kpa;
        let share = (pressure_kpa - below.pressure_kpa) / width;
        let value = low.value.zip(high.value).map(|(a, b)| a + share * (b - a));
        let straight = between(self.diameters.iter().copied(), pressure_kpa).zip(value);
        let bow = straight.map_or(0.0, |(curve, line)| (curve - line).abs());
        let u = low.u.zip(high.u).map(|(a, b)| a.max(b).hypot(bow));
        known(value, u, &high.reason)
    }

    /// Volume of the free balloon, mL.
    pub(super) fn volume_ml(&self, pressure_kpa: f64) -> Option<f64> {
        between(self.volumes.iter().copied(), pressure_kpa)
    }

    /// Pressure that the free balloon needs for a diameter, kPa: none below that of the unfolded balloon.
    pub(super) fn pressure_at(&self, diameter_mm: f64) -> Option<f64> {
        match self.diameters.first() {
            Some(first) if diameter_mm <= first.1 => Some(first.0),
            _ => between(self.diameters.iter().map(|(p, d)| (*d, *p)), diameter_mm),
        }
    }

    /// Where its diameters came from.
    pub(super) fn source(&self) -> &str {
        &self.balloon.source
    }

    pub(super) fn is_chart(&self) -> bool {
        self.balloon.source == CHART
    }
}

/// What the line takes up at a pressure, mL: mean of the blank runs, V = C p + V_air p/(p + p_ambient), the uncertainty that of the
/// least sure of them with half their range as a rectangle.
pub(super) fn line_volume(lines: &[&Line], ambient_kpa: f64, pressure_kpa: f64) -> Quantity {
    let air = pressure_kpa / (pressure_kpa + ambient_kpa);
    let all: Vec<(f64, f64)> = lines
        .iter()
        .filter_map(|line| {
            let (c, u_c) = line.compliance.value.zip(line.compliance.u)?;
            let (v, u_v) = line.trapped_air.value.zip(line.trapped_air.u)?;
            Some((
                c * pressure_kpa + v * air,
                (u_c * pressure_kpa).hypot(u_v * air),
            ))
        })
        .collect();
    if all.is_empty() {
        return Quantity::missing("mL", "no blank run tells what the line takes up");
    }
    let volumes = || all.iter().map(|v| v.0);
    let mean = volumes().sum::<f64>() / all.len() as f64;
    let (low, high) = (
        volumes().fold(f64::INFINITY, f64::min),
        volumes().fold(f64::NEG_INFINITY, f64::max),
    );
    let u = all.iter().map(|v| v.1).fold(0.0, f64::max);
    let scatter = 0.5 * (high - low) / 3.0_f64.sqrt();
    Quantity::known(
        mean,
        u.hypot(scatter),
        "mL",
        format!("mean of {} blank runs", all.len()),
    )
}
