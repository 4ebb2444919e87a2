//! The line on the way down: how far it stands off the way up, and its own fit where it does.

use super::LineModel;
use super::line_fit::{FEWEST, fit_points};
use crate::calibrate::median;
use crate::recording::{LineDown, Phase, PhaseKind, Trace};
use crate::rig::settings;
use crate::uncertain::Quantity;

/// Bands of pressure the way down is looked at in.
const BANDS: u32 = 10;
/// Fewest samples of a band.
const FEWEST_SAMPLES: usize = 3;

/// A band of the way down: medians of pressure (kPa) and volume (mL), and how many samples.
struct Band {
    pressure_kpa: f64,
    volume_ml: f64,
    samples: usize,
}

/// Largest distance between the way down and the fitted way up, and the fit of the way down where that is more than noise. `offset` is the
/// volume counted at no pressure, mL.
pub(super) fn way_down(
    trace: &Trace,
    phases: &[Phase],
    model: &LineModel,
    offset: f64,
    settings: &settings::Line,
) -> LineDown {
    let bands = bands(trace, phases);
    let hysteresis = match &bands {
        Ok(bands) => hysteresis(trace, bands, model, offset),
        Err(reason) => Quantity::missing("mL", *reason),
    };
    let apart = hysteresis
        .pair()
        .is_some_and(|(d, u)| d.abs() > settings.hysteresis_sigmas * u);
    let none = |reason: &str| {
        (
            Quantity::missing("mL/kPa", reason),
            Quantity::missing("mL", reason),
        )
    };
    let (compliance, trapped_air) = match (bands, apart) {
        (Err(reason), _) => none(reason),
        (Ok(_), false) => none("the way down lies within the uncertainty of the way up"),
        (Ok(bands), true) => fitted(trace, &bands, model.ambient_kpa)
            .unwrap_or_else(|| none("too few bands of pressure on the way down for a fit")),
    };
    LineDown {
        hysteresis,
        compliance,
        trapped_air,
    }
}

fn bands(trace: &Trace, phases: &[Phase]) -> Result<Vec<Band>, &'static str> {
    let down = phases
        .iter()
        .find(|p| p.kind == PhaseKind::Deflate)
        .ok_or("the run has no deflation")?;
    let volume = trace.volume_ml.as_ref().ok_or("no volume channel")?;
    let pressure = &trace.pressure_kpa[down.start..down.end];
    let top = pressure
        .iter()
        .copied()
        .filter(|p| p.is_finite())
        .fold(0.0, f64::max);
    let edge = |band: u32| top * f64::from(band) / f64::from(BANDS);
    let bands: Vec<Band> = (1..BANDS)
        .filter_map(|band| {
            let (low, high) = (edge(band), edge(band + 1));
            let (p, v): (Vec<f64>, Vec<f64>) = pressure
                .iter()
                .zip(&volume[down.start..down.end])
                .filter(|(p, v)| (low..high).contains(*p) && v.is_finite())
                .unzip();
            (p.len() >= FEWEST_SAMPLES).then(|| Band {
                pressure_kpa: median(&p),
                volume_ml: median(&v),
                samples: p.len(),
            })
        })
        .collect();
    if bands.is_empty() {
        return Err("too few samples on the way down");
    }
    Ok(bands)
}

fn hysteresis(trace: &Trace, bands: &[Band], model: &LineModel, offset: f64) -> Quantity {
    let off = |band: &Band| band.volume_ml - offset - model.volume_ml(band.pressure_kpa);
    let widest = bands
        .iter()
        .max_by(|a, b| off(a).abs().total_cmp(&off(b).abs()));
    widest.map_or_else(
        || Quantity::missing("mL", "too few samples on the way down"),
        |band| {
            let noise = trace.noise_ml / (band.samples as f64).sqrt();
            Quantity::known(
                off(band),
                noise.hypot(trace.u_volume_ml),
                "mL",
                "way down less fitted way up, widest of ten bands of pressure",
            )
        },
    )
}

fn fitted(trace: &Trace, bands: &[Band], ambient_kpa: f64) -> Option<(Quantity, Quantity)> {
    if bands.len() < FEWEST {
        return None;
    }
    let points: Vec<(f64, f64)> = bands
        .iter()
        .map(|b| (b.pressure_kpa, b.volume_ml))
        .collect();
    let fit = fit_points(&points, ambient_kpa, (0.0, 0.0)).ok()?;
    let gain = trace.u_volume_rel.hypot(trace.u_pressure_rel);
    let method = "least squares on ten bands of the way down, volume flowing";
    let known = |j: usize, unit: &str| {
        let value = fit.parameters[j];
        let u = fit.u(j).unwrap_or(f64::NAN).hypot(gain * value);
        Quantity::known(value, u, unit, method)
    };
    Some((known(1, "mL/kPa"), known(2, "mL")))
}
