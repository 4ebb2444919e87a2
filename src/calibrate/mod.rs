//! From numbers of a file to a trace in bench units, with a finding for every doubt.
//!
//! Nothing is silently repaired: rows out of order, repeats, gaps, missing codes, held and clipped stretches, one-sample
//! spikes, drift and a counter that was handed over are each reported with place and count. Nothing is smoothed or
//! resampled here, so the detector sees the samples as they were recorded.

mod clock;
mod convert;
mod dropouts;
mod handover;
mod noise;
mod quality;
mod stretches;
pub mod sync;
mod zero;

use crate::recording::{Finding, LineResistance, Place, RawRecording, RunRow, Severity, Trace};
use crate::rig::{ChannelQuantity, Rig, Settings, Side};
use quality::When;

pub use noise::{difference_sigma, mad_sigma, median};
pub use quality::{QUALITY, Quality};

/// Calibrates a recording. What was doubtful while reading it comes first among the findings. `usual_drift`: how fast the zero of this
/// rig drifts in runs that show it, kPa/s (root mean square), for a run that does not.
///
/// # Errors
///
/// An error finding where no usable pressure is left: no samples, no pressure channel, all missing, never moving, or absolute
/// pressure without an ambient pressure.
pub fn calibrate(
    mut raw: RawRecording,
    rig: &Rig,
    run: &RunRow,
    settings: &Settings,
    usual_drift: Option<f64>,
) -> Result<(Trace, Vec<Finding>), Vec<Finding>> {
    let mut findings = std::mem::take(&mut raw.findings);
    let order = clock::order(&mut raw, &mut findings);
    if order.rows.len() < 3 {
        findings.push(
            Finding::error(
                "too-few-samples",
                format!("only {} samples with a time are left", order.rows.len()),
            )
            .at(Place::file(&raw.file)),
        );
        return Err(findings);
    }
    let mut trace = Trace {
        time_s: order.time_s,
        line: raw.line.through(&order.rows),
        step_s: order.step_s,
        row: order.rows,
        ..Trace::default()
    };
    let channels = std::mem::take(&mut raw.channels);
    let column_of = |quantity: ChannelQuantity| {
        let channel = channels.iter().find(|channel| channel.quantity == quantity);
        channel.map(|channel| (channel.column.clone(), channel.unit))
    };
    let pressure_column = column_of(ChannelQuantity::Pressure);
    let volume_column =
        column_of(ChannelQuantity::Volume).or_else(|| column_of(ChannelQuantity::Turns));
    for channel in channels {
        let Some(spec) = rig.channels.get(channel.channel) else {
            continue;
        };
        convert::check_due(spec, run, &raw.file, &mut findings);
        let quantity = channel.quantity;
        let column = convert::to_bench(channel, spec, rig, &trace, &raw.file, &mut findings);
        match quantity {
            ChannelQuantity::Pressure if trace.pressure_kpa.is_empty() => {
                trace.pressure_kpa = column;
            }
            ChannelQuantity::Volume | ChannelQuantity::Turns if trace.volume_ml.is_none() => {
                trace.volume_ml = Some(column);
                trace.u_volume_ml = spec.u.unwrap_or(0.0);
                trace.u_volume_rel = spec.u_rel.unwrap_or(0.0);
            }
            ChannelQuantity::Diameter if trace.diameter_mm.is_none() => {
                trace.diameter_mm = Some(convert::undo_delay(&trace.time_s, column, spec.delay_s));
                trace.u_diameter_mm = spec.u.unwrap_or(f64::NAN);
            }
            ChannelQuantity::Sound if trace.sound.is_none() => trace.sound = Some(column),
            ChannelQuantity::Marker if trace.marker.is_none() => trace.marker = Some(column),
            ChannelQuantity::Force if trace.force_n.is_none() => trace.force_n = Some(column),
            ChannelQuantity::Temperature if trace.temperature_degc.is_none() => {
                trace.temperature_degc = Some(column);
            }
            _ => {}
        }
    }
    let (Some((_, spec)), Some((column, unit))) =
        (rig.channel(ChannelQuantity::Pressure), &pressure_column)
    else {
        findings.push(
            Finding::error(
                "no-pressure-channel",
                "the rig declares no pressure channel",
            )
            .at(Place::file(&rig.file))
            .help("add a [[channel]] with quantity = \"pressure\""),
        );
        return Err(findings);
    };
    trace.u_pressure_kpa = spec.u.unwrap_or(0.0);
    trace.u_pressure_rel = spec.u_rel.unwrap_or(0.0);
    trace.line_resistance = match rig.side {
        Some(Side::Balloon) => Some(LineResistance {
            kpa_s_per_ml: 0.0,
            u_rel: 0.0,
        }),
        _ => rig.resistance,
    };
    if spec.u.is_none() && spec.u_rel.is_none() {
        findings.push(
            Finding::doubt(
                "no-pressure-uncertainty",
                "the rig states no uncertainty for the pressure channel, so pressures carry only noise and zero",
            )
            .at(spec.place(&rig.file))
            .help("add u_kpa and u_rel from the calibration certificate"),
        );
    }
    trace.clipped = vec![false; trace.len()];
    dropouts::tell(&trace, column, &mut findings);
    let channel = quality::Channel {
        spec,
        unit,
        column,
        volume_column: volume_column.as_ref().map(|(column, _)| column.as_str()),
        file: &raw.file,
        rig,
        settings,
    };
    quality::check(When::Converted, &mut trace, &channel, &mut findings);
    let usable = trace.pressure_kpa.iter().filter(|p| p.is_finite());
    if usable.take(settings.fewest_samples).count() < settings.fewest_samples {
        findings.push(
            Finding::error(
                "no-usable-pressure",
                format!(
                    "the pressure column {column} has fewer than {} usable values",
                    settings.fewest_samples
                ),
            )
            .at(Place::file(&raw.file))
            .help("check the transducer, its cable and the column named in the rig"),
        );
        return Err(findings);
    }
    noise::measure(&mut trace, spec.resolution);
    quality::check(When::NoiseKnown, &mut trace, &channel, &mut findings);
    if findings
        .iter()
        .any(|finding| finding.severity == Severity::Error)
    {
        return Err(findings);
    }
    handover::join_counter(&mut trace, &raw.file, &mut findings);
    zero::apply(
        &mut trace,
        spec,
        rig,
        &raw.file,
        settings,
        usual_drift,
        &mut findings,
    );
    quality::check(When::Zeroed, &mut trace, &channel, &mut findings);
    Ok((trace, findings))
}
