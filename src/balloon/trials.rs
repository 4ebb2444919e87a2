//! Trials of the line and of the free balloon: what channels, zeros, scatter and model make of them when drawn together (JCGM 101).

use super::line_fit::fit_points;
use super::{DiameterCurve, LineModel};
use crate::recording::{BalloonRow, ByTrials, Trace};
use crate::uncertain::{Input, Quantity, Trials};
use crate::units::KPA_PER_ATM;

/// Standard normal numbers that a channel of pressure takes in a run: its gain, its constant part, its zero.
const CHANNEL: usize = 3;

/// Gain (relative) and offset (kPa) of a pressure channel drawn.
fn channel(trace: &Trace, z: &[f64]) -> Option<(f64, f64)> {
    let [gain, constant, zero] = *z.first_chunk::<CHANNEL>()?;
    let offset = trace.u_pressure_kpa * constant + trace.u_zero_kpa * zero;
    Some((trace.u_pressure_rel * gain, offset))
}

fn standard(n: usize) -> Vec<Input> {
    vec![Input::normal(0.0, 1.0); n]
}

/// Compliance and air of a line fitted to points of pressure (kPa) and volume (mL) that scatter by `residual_ml` about it: fitted anew to the
/// points of every draw.
pub(super) fn line(
    points: &[(f64, f64)],
    (model, offset_ml, residual_ml): (&LineModel, f64, f64),
    trace: &Trace,
    [compliance, air]: [&Quantity; 2],
    (label, trials): (&str, Trials),
) -> Vec<ByTrials> {
    let drawn = |z: &[f64]| {
        // As in propagation: a zeroed channel is off by its zero at no pressure, where the air shows; what else it is off by grows from there.
        let (gain, _) = channel(trace, z)?;
        let offset = trace.u_zero_kpa * z.get(CHANNEL - 1)?;
        let (counter, scatter) = z.get(CHANNEL..)?.split_first()?;
        let counter = 1.0 + trace.u_volume_rel * counter;
        let moved: Vec<(f64, f64)> = points
            .iter()
            .zip(scatter)
            .map(|((p, _), z)| {
                let volume = offset_ml + model.volume_ml(*p) + residual_ml * z;
                (p * (1.0 + gain) + offset, counter * volume)
            })
            .collect();
        let fit = fit_points(&moved, model.ambient_kpa, (0.0, 0.0)).ok()?;
        Some([*fit.parameters.get(1)?, *fit.parameters.get(2)?])
    };
    ByTrials::beside(
        [
            ("line.compliance", Some(compliance)),
            ("line.trapped_air", Some(air)),
        ],
        &drawn,
        &standard(CHANNEL + 1 + points.len()),
        &format!("{label}: line"),
        trials,
    )
}

/// Diameters of a free balloon at its nominal and rated pressure, and its growth between them, from its curve.
pub(super) fn balloon(
    curve: &DiameterCurve,
    row: Option<&BalloonRow>,
    trace: &Trace,
    quantities: [&Quantity; 4],
    (label, trials): (&str, Trials),
) -> Vec<ByTrials> {
    let [at_nominal, at_rated, compliance, per_atm] = quantities;
    let nominal = row.and_then(|row| row.nominal_pressure_kpa);
    let rated = row.and_then(|row| row.rated_burst_pressure_kpa);
    let drawn = |z: &[f64]| {
        let (gain, offset) = channel(trace, z)?;
        let curve = curve.drawn(z.get(CHANNEL..)?).misread(gain, offset);
        let at = |p: Option<f64>| p.map_or(f64::NAN, |p| curve.at(p));
        let (start, end) = (at(nominal), at(rated));
        let span = rated.zip(nominal).map_or(f64::NAN, |(b, a)| b - a);
        let per_atm = 100.0 * KPA_PER_ATM / span * (end / start - 1.0);
        Some([start, end, (end - start) / span, per_atm])
    };
    ByTrials::beside(
        [
            ("balloon.diameter_at_nominal", Some(at_nominal)),
            ("balloon.diameter_at_rated", Some(at_rated)),
            ("balloon.compliance", Some(compliance)),
            ("balloon.growth_per_atm", Some(per_atm)),
        ],
        &drawn,
        &standard(CHANNEL + curve.draws()),
        &format!("{label}: balloon"),
        trials,
    )
}
