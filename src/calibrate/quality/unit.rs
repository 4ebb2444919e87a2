//! Pressures that say something else than the declared unit. A unit is only doubted, never converted.

use super::excerpts::quantiles;
use super::{Channel, Said, median};
use crate::recording::{Finding, Trace};
use crate::rig::Calibration;
use crate::units::{Dimension, UNITS, Unit};

/// Highest pressures of a dilation, kPa: nominal pressures of balloons begin at 3 atm, and none is taken beyond 45 atm.
const USUAL_KPA: (f64, f64) = (300.0, 4500.0);
/// Below this highest pressure, kPa (1.5 atm), no balloon opens a frame ...
const LEAST_KPA: f64 = 150.0;
/// ... and of a transducer whose range is declared, at least this share is used.
const RANGE_USED: f64 = 0.1;
/// Beyond this, kPa (50 bar), no dilation goes: the dials of inflators end at 30 to 40 atm.
const MOST_KPA: f64 = 5000.0;
/// A start above this share of the highest pressure is no vent, also of an absolute channel: a dilation reaches several atmospheres.
const VENT_MOST_SHARE: f64 = 0.5;
/// One sample in two hundred counts for nothing: spikes and codes are no pressures.
const ENDS: f64 = 0.005;

/// Signals that stand above nothing at zero pressure, as numbers of the file: name, level at zero, span and highest reading.
const LIVE_ZEROS: &[(&str, f64, f64, f64)] = &[
    ("a current loop of 4 to 20 mA", 4.0, 16.0, 20.5),
    ("a ratiometric output of 0.5 to 4.5 V", 0.5, 4.0, 4.75),
    ("an output of 1 to 5 V", 1.0, 4.0, 5.1),
];
/// The level of the opening vent agrees with such a zero within this share of the span: the zero error of a usual transducer.
const ZERO_SHARE: f64 = 0.01;
/// Nothing lies below this share of such a zero: a vacuum after the deflation does.
const SUCTION_SHARE: f64 = 0.8;
/// The highest reading is this many times such a zero.
const USED: f64 = 1.5;

/// A highest pressure that no dilation reaches although another unit of pressure would make it a usual one, and numbers that look like
/// the signal of a transducer, not yet scaled.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let p = &trace.pressure_kpa;
    let Some([low, high]) = quantiles(p, [ENDS, 1.0 - ENDS]) else {
        return Said::default();
    };
    let until = trace
        .time_s
        .partition_point(|t| *t < trace.time_s[0] + channel.settings.vent_shortest_s);
    let vent = median(&p[..until.max(3).min(p.len())]);
    let scaled = channel.spec.calibration != Calibration::None;
    if !scaled && let Some(signal) = live_zero(channel, low, vent, high) {
        return Said::only(
            channel
                .over(
                    Finding::doubt("unscaled-signal", signal),
                    trace,
                    &[(0, trace.len())],
                )
                .effect("nothing is scaled: every pressure of the run is as wrong as its scale")
                .help("add [channel.calibration] with gain and offset from the certificate"),
        );
    }
    // An absolute pressure, declared or not, stands an atmosphere high; a run that starts under pressure keeps its own zero.
    let top = if vent.is_finite() && vent.abs() < VENT_MOST_SHARE * high {
        high - vent
    } else {
        high
    };
    let by_range = channel
        .spec
        .range
        .is_none_or(|(_, end)| top < RANGE_USED * end);
    let too_low = top > 0.0 && top < LEAST_KPA && by_range;
    if top <= MOST_KPA && !too_low {
        return Said::default();
    }
    let others = units_for(channel, top, scaled);
    // A small pressure that no unit makes a usual one was a small pressure.
    if others.is_empty() && top <= MOST_KPA {
        return Said::default();
    }
    let what = if top > MOST_KPA {
        "more than any balloon holds"
    } else {
        "too little to open a frame"
    };
    let number = channel.unit.from_bench(top);
    let read = if others.is_empty() {
        String::new()
    } else {
        format!("; read as {}", others.join(" or as "))
    };
    let message = format!(
        "the pressures reach {top:.1} kPa ({number:.4} {}), {what}{read}",
        channel.unit.symbol
    );
    Said::only(
        channel
            .over(
                Finding::doubt("implausible-unit", message),
                trace,
                &[(0, trace.len())],
            )
            .effect("nothing is converted: every pressure of the run is as declared")
            .help(if scaled {
                "compare gain, offset and unit of the calibration with the certificate"
            } else {
                "compare unit of the channel with the recorder's own display"
            }),
    )
}

/// Other units in which the same number would be a usual pressure, with that pressure.
fn units_for(channel: &Channel<'_>, top: f64, scaled: bool) -> Vec<String> {
    if scaled {
        return Vec::new();
    }
    let number = channel.unit.from_bench(top);
    let usual = |unit: &&Unit| {
        unit.dimension == Dimension::Pressure
            && (USUAL_KPA.0..=USUAL_KPA.1).contains(&unit.to_bench(number))
    };
    UNITS
        .iter()
        .filter(usual)
        .map(|unit| {
            format!(
                "{} they reach {:.0} kPa",
                unit.symbol,
                unit.to_bench(number)
            )
        })
        .collect()
}

/// What the numbers look like, if they stand at the zero of a signal while the line is vented and never leave its span.
fn live_zero(channel: &Channel<'_>, low: f64, vent: f64, high: f64) -> Option<String> {
    let number = |kpa: f64| channel.unit.from_bench(kpa);
    // In units of an atmosphere a vent at 1 is an absolute pressure.
    let atmosphere = number(channel.rig.ambient());
    let (name, zero, ..) = LIVE_ZEROS.iter().find(|(_, zero, span, most)| {
        let within = ZERO_SHARE * span;
        (number(vent) - zero).abs() <= within
            && number(low) >= SUCTION_SHARE * zero
            && number(high) <= *most
            && number(high) >= USED * zero
            && (atmosphere - zero).abs() > 2.0 * within
    })?;
    Some(format!(
        "the numbers stand at {:.3} while the line is vented and reach {:.3}, like {name}, whose zero is {zero}; they are declared as {}",
        number(vent),
        number(high),
        channel.unit.symbol
    ))
}
