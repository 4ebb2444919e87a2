//! A channel with its sign turned round.

use super::blocks::{blocks, span};
use super::{Channel, Said, counted, median};
use crate::calibrate::stretches::{samples, stretches};
use crate::recording::{Extent, Finding, Trace};

/// A pressure this many ambient pressures below the vent cannot be: a liquid line holds no more than a vacuum, and a transducer's
/// error is far below a fifth of an atmosphere.
const BELOW_VACUUM: f64 = 1.2;
/// What goes down must go this many times further down than up.
const DOWN_OVER_UP: f64 = 3.0;
/// Volume counts against the pressure where they move opposite ways in this share of the volume moved and of the stretches in which
/// both move: a fill that sucks turns most of the volume, a burst or a leak during a stroke a few of the stretches.
const AGAINST_SHARE: f64 = 0.7;
/// Where the pressure is above the middle of its range, a volume turned round stands below its start by this share of its range.
const BELOW_START: f64 = 0.25;
/// A block counts where both moved by this share of their range: more than creep, noise and a drifting counter.
const MOVED_SHARE: f64 = 0.003;
/// Blocks of a recording: a stroke of one that lasts a minute has a few of them.
const BLOCKS: usize = 200;
/// A change of pressure counts from so many standard deviations of its noise: a balloon fills at no pressure, and noise has any sign.
const CHANGE_SIGMAS: f64 = 4.0;
/// Fewest blocks that tell: a stroke and a deflation.
const FEWEST: usize = 8;
/// Fewest standard deviations of their noise that pressure and volume must span.
const SPAN_SIGMAS: f64 = 50.0;

/// Pressure that goes where no liquid can go, or volume that runs against the pressure.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let p = &trace.pressure_kpa;
    let limit = -BELOW_VACUUM * channel.rig.ambient();
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for part in super::excerpts::excerpts(p) {
        for p in part {
            low = low.min(*p);
            high = high.max(*p);
        }
    }
    if low < limit && -low > DOWN_OVER_UP * high {
        return Said::only(flipped_pressure(trace, channel, limit, low));
    }
    let blocks = blocks(trace, BLOCKS);
    let (p_low, p_high) = span(&blocks, |block| block.p);
    let (v_low, v_high) = span(&blocks, |block| block.v);
    let spans = |range: f64, noise: f64| range > SPAN_SIGMAS * noise;
    if blocks.len() < FEWEST
        || !spans(p_high - p_low, trace.noise_kpa)
        || !spans(v_high - v_low, trace.noise_ml)
    {
        return Said::default();
    }
    // A specimen that snaps through loses pressure while volume goes in, but it is in by then.
    let middle = f64::midpoint(p_low, p_high);
    let pressed: Vec<f64> = blocks
        .iter()
        .filter(|block| block.p > middle)
        .map(|block| block.v)
        .collect();
    let start = blocks.first().map_or(f64::NAN, |block| block.v);
    if median(&pressed) > start - BELOW_START * (v_high - v_low) {
        return Said::default();
    }
    let (mut with, mut against, mut count, mut turned) = (0.0, 0.0, 0_usize, 0_usize);
    for w in blocks.windows(2) {
        let (dp, dv) = (w[1].p - w[0].p, w[1].v - w[0].v);
        let noise = CHANGE_SIGMAS * trace.noise_kpa * (1.0 / w[0].n + 1.0 / w[1].n).sqrt();
        let least = noise.max(MOVED_SHARE * (p_high - p_low));
        if dp.abs() < least || dv.abs() < MOVED_SHARE * (v_high - v_low) {
            continue;
        }
        count += 1;
        if dp * dv > 0.0 {
            with += dv.abs();
        } else {
            against += dv.abs();
            turned += 1;
        }
    }
    if count < FEWEST
        || against < AGAINST_SHARE * (with + against)
        || (turned as f64) < AGAINST_SHARE * count as f64
    {
        return Said::default();
    }
    let column = channel.volume_column.unwrap_or("volume");
    let finding = Finding::doubt(
        "sign-flip",
        format!(
            "the volume of column {column} runs against the pressure: in {turned} of {count} stretches in which both move, one rises while the other falls"
        ),
    )
    .over(
        channel.file,
        channel.volume_column,
        Extent::of(trace, &[(0, trace.len())]),
    )
    .effect("nothing is turned round: strokes are taken for withdrawals, so phases, line, balloon and events of the run do not stand")
    .help("the counter reads what is left in the syringe: declare gain = -1 (and an offset) in its [channel.calibration]");
    Said::only(finding)
}

fn flipped_pressure(trace: &Trace, channel: &Channel<'_>, limit: f64, low: f64) -> Finding {
    let found = stretches(&trace.pressure_kpa, |p| p < limit);
    let count = samples(&found);
    let finding = Finding::doubt(
        "sign-flip",
        format!(
            "{count} pressures lie below a vacuum, down to {low:.1} kPa against the vent: the sign of the channel is turned round"
        ),
    )
    .effect(format!(
        "nothing is turned round: {} and every pressure of the run do not stand",
        counted(count, "sample")
    ))
    .help("swap the wires of the transducer, or declare gain = -1 in [channel.calibration]");
    channel.over(finding, trace, &found)
}
