//! The line from blank runs.

use super::way_down::way_down;
use super::{LineModel, line_air, trials};
use crate::calibrate::median;
use crate::fit::{FitError, LinearFit, linear_least_squares};
use crate::recording::{Curve, Finding, LineResult, Phase, PhaseKind, Trace};
use crate::rig::settings;
use crate::segment::Rest;
use crate::uncertain::{Budget, Component, Quantity, StatedBudget, Trials};
use ndarray::Array2;

/// Points of the curve written out.
const CURVE_POINTS: usize = 61;
/// Fewest points of a fit with two parameters and a zero.
pub(super) const FEWEST: usize = 5;

/// Fits `V = V0 + C p + V_air p/(p + p_ambient)` to the rests of a blank run: linear in V0, C and V_air. `Err` says why not. Where `trials` are
/// asked for, with the name of the run, they stand beside.
pub fn fit_line(
    trace: &Trace,
    rests: &[Rest],
    phases: &[Phase],
    ambient_kpa: f64,
    settings: &settings::Line,
    trials: Option<(&str, Trials)>,
) -> Result<(LineModel, LineResult, Option<Finding>), String> {
    let volume = trace
        .volume_ml
        .as_ref()
        .ok_or("the recording has no volume channel")?;
    let vent_end = phases
        .first()
        .filter(|p| p.kind == PhaseKind::Vent)
        .map_or(0, |p| p.end);
    let mut points: Vec<(f64, f64)> = rests
        .iter()
        .map(|r| (r.pressure_kpa, r.volume_ml))
        .collect();
    if vent_end > 2 {
        points.push((
            median(&trace.pressure_kpa[..vent_end]),
            median(&volume[..vent_end]),
        ));
    }
    let vented_ml = points.get(rests.len()).map(|vent| vent.1);
    points.retain(|(p, v)| p.is_finite() && v.is_finite() && *p > -0.5 * ambient_kpa);
    if points.len() < FEWEST {
        return Err(format!(
            "only {} quasi-static points; at least {FEWEST} are needed",
            points.len()
        ));
    }
    let fit = fit_points(&points, ambient_kpa, (0.0, 0.0)).map_err(|error| error.to_string())?;
    let (c, air) = (fit.parameters[1], fit.parameters[2]);
    let residual_ml = fit.residual_sd.unwrap_or(f64::NAN);
    // The gain of the volume acts on the whole curve; what gain and zero of the pressure do is tried out (JCGM 100, 5.1.4).
    let by = |moved: &Result<LinearFit, FitError>, j: usize| {
        let moved = moved.as_ref().map(|moved| moved.parameters[j]);
        moved.map_or(f64::NAN, |moved| moved - fit.parameters[j])
    };
    let off = fit_points(&points, ambient_kpa, (0.0, trace.u_zero_kpa));
    let higher = fit_points(&points, ambient_kpa, (trace.u_pressure_rel, 0.0));
    let (by_zero, by_gain) = (|j: usize| by(&off, j), |j: usize| by(&higher, j));
    let covariance = |i: usize, j: usize| fit.covariance[[i, j]] + by_zero(i) * by_zero(j);
    let model = LineModel {
        compliance_ml_per_kpa: c,
        air_ml: air,
        ambient_kpa,
        covariance: [covariance(1, 1), covariance(2, 2), covariance(1, 2)],
    };
    let budget = |j: usize, value: f64| {
        Budget::new()
            .with(Component::normal(
                "scatter about the fit",
                fit.u(j).unwrap_or(f64::NAN),
            ))
            .with(Component::normal("gain of the volume", trace.u_volume_rel).sensitivity(value))
            .with(Component::normal("gain of the pressure", by_gain(j).abs()))
            .with(Component::normal("zero of the pressure", by_zero(j).abs()))
    };
    let (of_c, of_air) = (budget(1, c), budget(2, air));
    let method = "least squares on quasi-static points, V = V0 + C p + V_air p/(p + p_ambient)";
    let top = points.iter().map(|p| p.0).fold(0.0, f64::max);
    let pressure_kpa: Vec<f64> = (0..CURVE_POINTS)
        .map(|i| top * i as f64 / (CURVE_POINTS - 1) as f64)
        .collect();
    let air_share = line_air::share(
        &model,
        &fit,
        (by_zero(1), by_zero(2)),
        settings.air_up_to_kpa,
    );
    let doubt = line_air::doubt(&air_share, settings);
    let compliance = of_c.quantity(c, "mL/kPa", method);
    let trapped_air = of_air.quantity(air, "mL", method);
    let result = LineResult {
        by_trials: trials.map_or_else(Vec::new, |trials| {
            let fitted = (&model, fit.parameters[0], residual_ml);
            trials::line(&points, fitted, trace, [&compliance, &trapped_air], trials)
        }),
        compliance,
        trapped_air,
        dead_volume: dead_volume(&fit, by_zero(0), vented_ml, trace.noise_ml, doubt.is_some()),
        air: line_air::words(&air_share, settings).to_owned(),
        air_share,
        down: way_down(trace, phases, &model, fit.parameters[0], settings),
        residual_ml,
        budgets: vec![
            ("line.compliance", StatedBudget::new("mL/kPa", of_c)),
            ("line.trapped_air", StatedBudget::new("mL", of_air)),
        ],
        curve: Curve {
            volume_ml: pressure_kpa.iter().map(|p| model.volume_ml(*p)).collect(),
            pressure_kpa,
            ..Curve::default()
        },
    };
    Ok((model, result, doubt))
}

/// Volume moved before the pressure rises, mL: slack of seals and hoses.
fn dead_volume(
    fit: &LinearFit,
    by_zero_ml: f64,
    vented_ml: Option<f64>,
    noise_ml: f64,
    doubted: bool,
) -> Quantity {
    match (vented_ml, fit.u(0)) {
        _ if doubted => Quantity::missing(
            "mL",
            "with so much air no volume at no pressure can be told from that of the air",
        ),
        (Some(vented), Ok(u)) => Quantity::known(
            fit.parameters[0] - vented,
            u.hypot(noise_ml).hypot(by_zero_ml),
            "mL",
            "fitted volume at no pressure less the counter in the vent",
        ),
        (None, _) => Quantity::missing("mL", "no vented stretch at the start"),
        (_, Err(why)) => Quantity::missing("mL", why.to_string()),
    }
}

/// V0, C and V_air from points of pressure (kPa) and volume (mL), the pressures taken higher by a gain (relative) and an offset (kPa).
pub(super) fn fit_points(
    points: &[(f64, f64)],
    ambient_kpa: f64,
    (gain, off_kpa): (f64, f64),
) -> Result<LinearFit, FitError> {
    let design = Array2::from_shape_fn((points.len(), 3), |(i, j)| {
        let p = points[i].0 * (1.0 + gain) + off_kpa;
        match j {
            0 => 1.0,
            1 => p,
            _ => p / (p + ambient_kpa),
        }
    });
    let y: Vec<f64> = points.iter().map(|p| p.1).collect();
    linear_least_squares(&design, &y, None)
}

/// One line for the study from the lines of its blank runs, weighted by the uncertainty of their compliance.
pub fn pool_lines(lines: &[(LineModel, LineResult)]) -> Option<LineModel> {
    let ambient_kpa = lines.first()?.0.ambient_kpa;
    let shares = |by: fn(&LineResult) -> &Quantity| -> Vec<f64> {
        let weight = |q: &Quantity| q.u.filter(|u| *u > 0.0).map_or(1.0, |u| 1.0 / (u * u));
        let weights: Vec<f64> = lines.iter().map(|l| weight(by(&l.1))).collect();
        let total: f64 = weights.iter().sum();
        weights.into_iter().map(|w| w / total).collect()
    };
    let (of_compliance, of_air) = (shares(|r| &r.compliance), shares(|r| &r.trapped_air));
    let mean = |shares: &[f64], value: fn(&LineModel) -> f64| -> f64 {
        lines
            .iter()
            .zip(shares)
            .map(|(l, share)| share * value(&l.0))
            .sum()
    };
    // Blank runs err by themselves; what gains do to all of them is left out here as there.
    let covariance = |k: usize, a: &[f64], b: &[f64]| -> f64 {
        let both = a.iter().zip(b).map(|(a, b)| a * b);
        lines
            .iter()
            .zip(both)
            .map(|(l, share)| share * l.0.covariance[k])
            .sum()
    };
    Some(LineModel {
        compliance_ml_per_kpa: mean(&of_compliance, |l| l.compliance_ml_per_kpa),
        air_ml: mean(&of_air, |l| l.air_ml),
        ambient_kpa,
        covariance: [
            covariance(0, &of_compliance, &of_compliance),
            covariance(1, &of_air, &of_air),
            covariance(2, &of_compliance, &of_air),
        ],
    })
}
