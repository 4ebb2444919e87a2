//! Steps of the converter or the display that hide the noise.

use super::excerpts::{grain, quantiles};
use super::{Channel, Said};
use crate::recording::{Finding, Place, Trace};

/// One sample in two hundred at either end counts for nothing: spikes and codes.
const ENDS: f64 = 0.005;
/// The steps count from so many times the noise and step that are known: a tenth is rounding of the declaration.
const OVER_KNOWN: f64 = 1.2;
/// From this share of the highest pressure a step is worth a doubt: the accuracy of a usual bench transducer, 0.25 % of full scale.
const DOUBT_SHARE: f64 = 0.0025;

/// Pressure that moves in steps wider than the noise, where the rig does not say so: a step of q has a standard deviation of q/√12,
/// and no fall smaller than a step is seen.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let p = &trace.pressure_kpa;
    let Some(step) = grain(p) else {
        return Said::default();
    };
    let spread = step / 12.0_f64.sqrt();
    if spread <= OVER_KNOWN * trace.noise_kpa {
        return Said::default();
    }
    let Some([low, high]) = quantiles(p, [ENDS, 1.0 - ENDS]) else {
        return Said::default();
    };
    let declared = channel.spec.resolution.map_or_else(
        || "no resolution is declared".to_owned(),
        |declared| format!("a resolution of {declared:.4} kPa is declared"),
    );
    let message = format!("the pressure moves in steps of {step:.4} kPa, and {declared}");
    let finding = if step > DOUBT_SHARE * (high - low) {
        Finding::doubt("quantised", message)
    } else {
        Finding::note("quantised", message)
    };
    let levels = ((high - low) / step).round() as usize + 1;
    let column = channel.column.to_owned();
    Said {
        findings: vec![
            finding
                .at(Place {
                    column: Some(column),
                    ..Place::file(channel.file)
                })
                .count(levels)
                .effect(format!(
                    "the noise is taken as {spread:.4} kPa (a step over √12) instead of {:.4} kPa, and the smallest fall that counts grows with it",
                    trace.noise_kpa
                ))
                .help("declare resolution_<unit> of the channel, or log more digits"),
        ],
        noise_at_least: spread,
        ..Said::default()
    }
}
