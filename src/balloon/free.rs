//! The free balloon: diameter from optical readings or the maker's chart, volume from free runs.

use super::creep::{Creep, at_rests};
use super::growth::{Growth, SCATTER, kind};
use super::{DiameterCurve, LineModel, fit_chart, fit_diameter};
use crate::recording::{BalloonResult, BalloonRow, ChartRow, Curve, Trace};
use crate::rig::settings;
use crate::segment::Rest;
use crate::uncertain::{Budget, Budgeted, Component, Quantity, Trials};

/// Points of the curve written out.
const CURVE_POINTS: usize = 61;
/// Fewest optical points for a diameter curve.
const FEWEST_OPTICAL: usize = 6;
/// Below this gauge pressure a balloon still unfolds, kPa: optical readings there are no diameter of a cylinder.
const UNFOLDED_KPA: f64 = 40.0;
/// The volume of a free run is carried on up to so many times its highest pressure.
const BEYOND_SHARE: f64 = 1.25;
/// Standard uncertainty of a chart whose maker states none: 1 % of the diameter as a rectangle's half width (common practice, no
/// source: labels are held to 5 or 10 %, charts of one lot to less).
const CHART_HALF_WIDTH: f64 = 0.005;

/// What is known of a balloon without a frame.
#[derive(Debug, Clone)]
pub struct FreeBalloon {
    /// Diameter against pressure.
    pub diameter: Option<DiameterCurve>,
    /// Where the diameters came from.
    pub source: String,
    /// Quasi-static points of the free runs: pressure (kPa, increasing) and volume of the balloon (mL).
    pub volume: Vec<(f64, f64)>,
    /// How its wall creeps, where the holds of the free runs tell.
    pub creep: Option<Creep>,
    /// What of these volumes its wall had crept by: pressure (kPa, increasing) and volume (mL); empty where nothing is known.
    pub crept: Vec<(f64, f64)>,
    /// Standard uncertainty that the hand-over of the counter leaves in all these volumes, mL: that of the worst of its runs.
    pub u_handover_ml: f64,
}

impl FreeBalloon {
    /// What its wall had crept by at a pressure (kPa) in the free run, mL: straight between its rests, and as at the last beyond.
    pub fn crept_at(&self, pressure_kpa: f64) -> f64 {
        let above = self.crept.partition_point(|p| p.0 < pressure_kpa);
        match (
            above.checked_sub(1).and_then(|k| self.crept.get(k)),
            self.crept.get(above),
        ) {
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (pressure_kpa - a.0) / (b.0 - a.0),
            (None, Some(b)) if b.0 > 0.0 => b.1 * (pressure_kpa / b.0).max(0.0),
            (Some(a), None) => a.1,
            _ => 0.0,
        }
    }

    /// Volume of the free balloon at a gauge pressure (kPa), mL: straight between points, and a little beyond the last along the
    /// slope of the last fifth of them; `None` farther out.
    pub fn volume_at(&self, pressure_kpa: f64) -> Option<f64> {
        let above = self.volume.partition_point(|p| p.0 < pressure_kpa);
        let last = self.volume.last()?;
        if above == self.volume.len() && pressure_kpa <= BEYOND_SHARE * last.0 {
            let from = self.volume.get(self.volume.len() * 4 / 5)?;
            let slope = (last.1 - from.1) / (last.0 - from.0);
            return slope
                .is_finite()
                .then_some(last.1 + slope * (pressure_kpa - last.0));
        }
        if above == 0 || above == self.volume.len() {
            return None;
        }
        let (a, b) = (self.volume[above - 1], self.volume[above]);
        Some(a.1 + (b.1 - a.1) * (pressure_kpa - a.0) / (b.0 - a.0))
    }
}

/// Puts a free balloon together from the rests of its free runs (with their traces), its chart, and the line.
pub fn fit_free(
    runs: &[(&Trace, &[Rest])],
    chart: &[&ChartRow],
    line: Option<&LineModel>,
) -> FreeBalloon {
    let mut optical: Vec<(f64, f64)> = runs
        .iter()
        .flat_map(|(_, rests)| rests.iter())
        .filter(|r| r.diameter_mm.is_finite() && r.pressure_kpa > UNFOLDED_KPA)
        .map(|r| (r.pressure_kpa, r.diameter_mm))
        .collect();
    optical.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut charted: Vec<(f64, f64)> = chart
        .iter()
        .map(|c| (c.pressure_kpa, c.diameter_mm))
        .collect();
    charted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (diameter, source) = if optical.len() >= FEWEST_OPTICAL {
        let u = runs
            .iter()
            .map(|(t, _)| t.u_diameter_mm)
            .filter(|u| u.is_finite())
            .fold(0.0, f64::max);
        let (p, d): (Vec<f64>, Vec<f64>) = optical.iter().copied().unzip();
        (fit_diameter(&p, &d, u), "optical readings of the free run")
    } else if charted.len() >= 2 {
        let u = CHART_HALF_WIDTH * charted[charted.len() / 2].1 / 3.0_f64.sqrt();
        let (p, d): (Vec<f64>, Vec<f64>) = charted.iter().copied().unzip();
        (fit_chart(&p, &d, u), "maker's chart")
    } else {
        (None, "none: neither optical readings nor a chart")
    };
    let creep = Creep::of(runs);
    FreeBalloon {
        diameter,
        source: source.to_owned(),
        volume: volumes(runs, line),
        creep,
        crept: creep.map_or_else(Vec::new, |creep| at_rests(&creep, runs)),
        u_handover_ml: runs
            .iter()
            .map(|(t, _)| t.u_handover_ml)
            .fold(0.0, f64::max),
    }
}

/// Volume of the balloon at the rests: injected volume less that of the line; pressures increasing, volumes never falling.
fn volumes(runs: &[(&Trace, &[Rest])], line: Option<&LineModel>) -> Vec<(f64, f64)> {
    let Some(line) = line else { return Vec::new() };
    let mut points: Vec<(f64, f64)> = runs
        .iter()
        .flat_map(|(_, rests)| rests.iter())
        .filter(|r| r.volume_ml.is_finite())
        .map(|r| (r.pressure_kpa, r.volume_ml - line.volume_ml(r.pressure_kpa)))
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    points.dedup_by(|b, a| (b.0 - a.0).abs() < 0.5);
    points
}

/// What is reported of a free run's balloon.
pub fn report(
    free: &FreeBalloon,
    row: Option<&BalloonRow>,
    trace: &Trace,
    rests: &[Rest],
    settings: &settings::Balloon,
    trials: Option<(&str, Trials)>,
) -> BalloonResult {
    let nominal = row.and_then(|r| r.nominal_pressure_kpa);
    let rated = row.and_then(|r| r.rated_burst_pressure_kpa);
    let no_curve = || Budgeted::missing("mm", free.source.clone());
    let at = |pressure: Option<f64>, what: &str| match (&free.diameter, pressure) {
        (Some(curve), Some(p)) => {
            let slope = (curve.at(p + 1.0) - curve.at(p - 1.0)) / 2.0;
            // The rest nearest to that pressure says when it was measured.
            let nearest = rests.iter().min_by(|a, b| {
                let off = |rest: &Rest| (rest.pressure_kpa - p).abs();
                off(a).total_cmp(&off(b))
            });
            let t_s = nearest.map_or(trace.zeroed_at_s, |rest| rest.t_s);
            let pressure = Component::normal("pressure", trace.u_pressure_at(p, t_s));
            let budget = Budget::new()
                .with(Component::normal(SCATTER, curve.u_scatter_at(p)))
                .with(Component::normal(
                    "scale of chart or camera",
                    curve.u_common_mm,
                ))
                .with(pressure.sensitivity(slope));
            Budgeted::known(
                curve.at(p),
                budget,
                "mm",
                format!("{} model, {}", curve.name(), free.source),
            )
        }
        (None, _) => no_curve(),
        (_, None) => Budgeted::missing(
            "mm",
            format!("the {what} pressure of the balloon is not listed"),
        ),
    };
    let compliance = match (&free.diameter, nominal, rated) {
        (Some(curve), Some(a), Some(b)) if b > a => {
            let growth = (curve.at(b) - curve.at(a)) / (b - a);
            // What is off by a factor in diameter or pressure is off by it in the growth.
            let factor = |name: &str, u: f64| Component::normal(name, u).sensitivity(growth);
            let scale = curve.u_common_mm / curve.at(a);
            let budget = Budget::new()
                .with(Component::normal(SCATTER, curve.u_growth(a, b) / (b - a)))
                .with(factor("scale of chart or camera", scale))
                .with(factor("gain of the pressure", trace.u_pressure_rel));
            Budgeted::known(
                growth,
                budget,
                "mm/kPa",
                "mean growth from nominal to rated burst pressure",
            )
        }
        _ => Budgeted::missing(
            "mm/kPa",
            "needs a diameter curve and the nominal and rated pressures",
        ),
    };
    let top = rests.iter().map(|r| r.pressure_kpa).fold(0.0, f64::max);
    let growth = free.diameter.as_ref().map(|curve| Growth {
        curve,
        row,
        trace,
        top_kpa: top,
    });
    let growth_per_atm = growth.as_ref().map_or_else(
        || Budgeted::missing("%/atm", free.source.clone()),
        Growth::per_atm,
    );
    let bottom = free.volume.first().map_or(0.0, |p| p.0.max(0.0));
    let pressure_kpa: Vec<f64> = (0..CURVE_POINTS)
        .map(|i| bottom + (top - bottom) * i as f64 / (CURVE_POINTS - 1) as f64)
        .collect();
    let volume_ml: Vec<f64> = pressure_kpa
        .iter()
        .filter_map(|p| free.volume_at(*p))
        .collect();
    // The ends of the range may fall outside the points by rounding; a curve is only written where every pressure has a volume.
    let (pressure_kpa, volume_ml) = if volume_ml.len() == pressure_kpa.len() {
        (pressure_kpa, volume_ml)
    } else {
        let kept: Vec<f64> = pressure_kpa
            .iter()
            .copied()
            .filter(|p| free.volume_at(*p).is_some())
            .collect();
        if kept.is_empty() {
            (pressure_kpa, Vec::new())
        } else {
            (kept, volume_ml)
        }
    };
    let (low, high) = pressure_kpa
        .iter()
        .map_while(|p| {
            let curve = free.diameter.as_ref()?;
            curve.reading_band(*p, Curve::READING_CONFIDENCE)
        })
        .unzip();
    let figures = [
        ("balloon.diameter_at_nominal", at(nominal, "nominal")),
        ("balloon.diameter_at_rated", at(rated, "rated burst")),
        ("balloon.compliance", compliance),
        ("balloon.growth_per_atm", growth_per_atm),
    ];
    let budgets = figures
        .iter()
        .filter_map(|(name, figure)| Some((*name, figure.stated()?)))
        .collect();
    let [
        diameter_at_nominal,
        diameter_at_rated,
        compliance,
        growth_per_atm,
    ] = figures.map(|(_, figure)| figure.quantity);
    let by_trials = trials.zip(free.diameter.as_ref());
    let by_trials = by_trials.map_or_else(Vec::new, |(trials, curve)| {
        let figures = [
            &diameter_at_nominal,
            &diameter_at_rated,
            &compliance,
            &growth_per_atm,
        ];
        super::trials::balloon(curve, row, trace, figures, trials)
    });
    BalloonResult {
        budgets,
        by_trials,
        model: free
            .diameter
            .as_ref()
            .map_or("none", |c| c.name())
            .to_owned(),
        models: free
            .diameter
            .as_ref()
            .map_or_else(Vec::new, |c| c.ranking.clone()),
        source: free.source.clone(),
        unfolded_diameter: free.diameter.as_ref().map_or_else(
            || no_curve().quantity,
            |c| {
                let method = format!("{} model at no pressure", c.name());
                let u = c.u_at(0.0).hypot(c.u_unseen_at(0.0));
                Quantity::known(c.at(0.0), u, "mm", method)
            },
        ),
        nominal_pressure_kpa: nominal,
        rated_burst_pressure_kpa: rated,
        diameter_at_nominal,
        diameter_at_rated,
        compliance,
        kind: kind(&growth_per_atm, settings),
        growth_per_atm,
        table: growth.map_or_else(Vec::new, |growth| growth.table()),
        curve: Curve {
            reading_low_mm: low,
            reading_high_mm: high,
            diameter_mm: free.diameter.as_ref().map_or_else(Vec::new, |c| {
                pressure_kpa.iter().map(|p| c.at(*p)).collect()
            }),
            volume_ml,
            pressure_kpa,
            ..Curve::default()
        },
    }
}
