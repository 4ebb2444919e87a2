//! The line from blank runs.

use super::LineModel;
use crate::calibrate::median;
use crate::fit::{FitError, LinearFit, linear_least_squares};
use crate::recording::{Curve, LineResult, Phase, PhaseKind, Trace};
use crate::segment::Rest;
use crate::uncertain::Quantity;
use ndarray::Array2;

/// Points of the curve written out.
const CURVE_POINTS: usize = 61;
/// Fewest points of a fit with two parameters and a zero.
const FEWEST: usize = 5;

/// Fits `V = V0 + C p + V_air p/(p + p_ambient)` to the rests of a blank run: linear in V0, C and V_air. `Err` says why not.
pub fn fit_line(
    trace: &Trace,
    rests: &[Rest],
    phases: &[Phase],
    ambient_kpa: f64,
) -> Result<(LineModel, LineResult), String> {
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
    points.retain(|(p, v)| p.is_finite() && v.is_finite() && *p > -0.5 * ambient_kpa);
    if points.len() < FEWEST {
        return Err(format!(
            "only {} quasi-static points; at least {FEWEST} are needed",
            points.len()
        ));
    }
    let fit = fit_points(&points, ambient_kpa, 0.0).map_err(|error| error.to_string())?;
    let (c, air) = (fit.parameters[1], fit.parameters[2]);
    let model = LineModel {
        compliance_ml_per_kpa: c,
        air_ml: air,
        ambient_kpa,
    };
    let residual_ml = fit.residual_sd.unwrap_or(f64::NAN);
    // Gains of volume and pressure channel act on the whole curve; what the zero of the pressure does is tried out (JCGM 100, 5.1.4).
    let gain = trace.u_volume_rel.hypot(trace.u_pressure_rel);
    let off = fit_points(&points, ambient_kpa, trace.u_zero_kpa);
    let by_zero = |j: usize| {
        off.as_ref()
            .map_or(f64::NAN, |off| off.parameters[j] - fit.parameters[j])
    };
    let u = |j: usize, value: f64| {
        let fitted = fit.u(j).unwrap_or(f64::NAN);
        (fitted.powi(2) + (gain * value).powi(2) + by_zero(j).powi(2)).sqrt()
    };
    let (u_c, u_air) = (u(1, c), u(2, air));
    let method = "least squares on quasi-static points, V = V0 + C p + V_air p/(p + p_ambient)";
    let top = points.iter().map(|p| p.0).fold(0.0, f64::max);
    let pressure_kpa: Vec<f64> = (0..CURVE_POINTS)
        .map(|i| top * i as f64 / (CURVE_POINTS - 1) as f64)
        .collect();
    let result = LineResult {
        compliance: Quantity::known(c, u_c, "mL/kPa", method),
        trapped_air: Quantity::known(air, u_air, "mL", method),
        hysteresis: hysteresis(trace, phases, &model, fit.parameters[0]),
        residual_ml,
        curve: Curve {
            volume_ml: pressure_kpa.iter().map(|p| model.volume_ml(*p)).collect(),
            pressure_kpa,
            ..Curve::default()
        },
    };
    Ok((model, result))
}

/// V0, C and V_air from points of pressure (kPa) and volume (mL), the pressures taken `off_kpa` higher.
fn fit_points(
    points: &[(f64, f64)],
    ambient_kpa: f64,
    off_kpa: f64,
) -> Result<LinearFit, FitError> {
    let design = Array2::from_shape_fn((points.len(), 3), |(i, j)| {
        let p = points[i].0 + off_kpa;
        match j {
            0 => 1.0,
            1 => p,
            _ => p / (p + ambient_kpa),
        }
    });
    let y: Vec<f64> = points.iter().map(|p| p.1).collect();
    linear_least_squares(&design, &y, None)
}

/// Largest distance between the way down and the fitted way up, in ten bands of pressure.
fn hysteresis(trace: &Trace, phases: &[Phase], model: &LineModel, offset: f64) -> Quantity {
    let Some(down) = phases.iter().find(|p| p.kind == PhaseKind::Deflate) else {
        return Quantity::missing("mL", "the run has no deflation");
    };
    let Some(volume) = &trace.volume_ml else {
        return Quantity::missing("mL", "no volume channel");
    };
    let top = trace.pressure_kpa[down.start..down.end]
        .iter()
        .copied()
        .filter(|p| p.is_finite())
        .fold(0.0, f64::max);
    let mut widest: Option<(f64, f64)> = None;
    for band in 1..10 {
        let (low, high) = (
            top * f64::from(band) / 10.0,
            top * f64::from(band + 1) / 10.0,
        );
        let distances: Vec<f64> = (down.start..down.end)
            .filter(|&i| trace.pressure_kpa[i] >= low && trace.pressure_kpa[i] < high)
            .map(|i| volume[i] - offset - model.volume_ml(trace.pressure_kpa[i]))
            .filter(|d| d.is_finite())
            .collect();
        if distances.len() < 3 {
            continue;
        }
        let middle = median(&distances);
        if widest.is_none_or(|w| middle.abs() > w.0.abs()) {
            widest = Some((middle, trace.noise_ml / (distances.len() as f64).sqrt()));
        }
    }
    widest.map_or_else(
        || Quantity::missing("mL", "too few samples on the way down"),
        |(d, u)| {
            let u = u.hypot(trace.u_volume_ml);
            Quantity::known(
                d,
                u,
                "mL",
                "way down less fitted way up, widest of ten bands of pressure",
            )
        },
    )
}

/// One line for the study from the lines of its blank runs, weighted by the uncertainty of their compliance.
pub fn pool_lines(lines: &[(LineModel, LineResult)]) -> Option<LineModel> {
    let weight = |q: &Quantity| q.u.filter(|u| *u > 0.0).map_or(1.0, |u| 1.0 / (u * u));
    let ambient_kpa = lines.first()?.0.ambient_kpa;
    let mean = |value: fn(&LineModel) -> f64, by: fn(&LineResult) -> &Quantity| {
        let total: f64 = lines.iter().map(|l| weight(by(&l.1))).sum();
        lines
            .iter()
            .map(|l| weight(by(&l.1)) * value(&l.0))
            .sum::<f64>()
            / total
    };
    Some(LineModel {
        compliance_ml_per_kpa: mean(|l| l.compliance_ml_per_kpa, |r| &r.compliance),
        air_ml: mean(|l| l.air_ml, |r| &r.trapped_air),
        ambient_kpa,
    })
}
