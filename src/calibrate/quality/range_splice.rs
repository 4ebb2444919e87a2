//! A recorder that switched its range in the middle of a run: from one sample to the next everything is larger or smaller by one
//! factor, the noise too.

use super::{Channel, Said, median};
use crate::calibrate::noise::mad_sigma;
use crate::calibrate::stretches::places;
use crate::recording::{Finding, Trace};

/// Ratios of neighbouring ranges: series 1-2-5, and amplifiers that double.
const RATIOS: &[f64] = &[2.0, 2.5, 4.0, 5.0, 8.0, 10.0, 16.0, 20.0, 50.0, 100.0];
/// The levels agree with such a ratio within this share: relaxation and noise over the windows.
const RATIO_SHARE: f64 = 0.06;
/// The noise agrees with it within this factor: the ratio of two estimates from a hundred bends each is known to about 14 %.
const NOISE_FACTOR: f64 = 1.5;
/// Length of the windows on either side, s, and bounds on their samples.
const WINDOW_S: f64 = 1.0;
const WINDOW: (usize, usize) = (96, 2000);
/// Samples on either side of a jump that tell its levels.
const NEAR: usize = 12;
/// Bends larger than so many standard deviations are strokes and spikes: they are cut off.
const BEND_SIGMAS: f64 = 4.0;
/// A level counts from so many standard deviations of the noise on its side: less says nothing of a ratio.
const LEVEL_SIGMAS: f64 = 12.0;
/// The step itself takes no more than so many samples.
const EDGE: usize = 2;
/// Moved volume that explains a jump, as a share of what the run moves.
const MOVED_SHARE: f64 = 0.005;
/// So many jumps are looked at, the first to come: a recorder that switches its range more often is out of order.
const LOOKED_AT: usize = 200;

/// Jumps by the ratio of two ranges in which the noise jumps by the same ratio while no volume moves.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let p = &trace.pressure_kpa;
    let window = ((WINDOW_S / trace.step_s).round() as usize).clamp(WINDOW.0, WINDOW.1);
    let found: Vec<(usize, f64)> = jumps(p, trace.noise_kpa)
        .into_iter()
        .filter_map(|at| Some((at, spliced(trace, at, window)?)))
        .collect();
    let Some(&(first, ratio)) = found.first() else {
        return Said::default();
    };
    let places: Vec<(usize, usize)> = found.iter().map(|(at, _)| (*at, at + 1)).collect();
    let finding = Finding::doubt(
        "range-splice",
        format!(
            "at {:.2} s pressure and noise jump together to {ratio:.3} times what they were while no volume moves: the recorder switched its range",
            trace.time_s[first]
        ),
    )
    .effect("nothing is scaled: the pressures on one side of each jump do not stand, and a jump down may look like an event")
    .help("record with a fixed range, or split the recording where the range changes");
    Said::only(channel.over(finding, trace, &places))
}

/// Samples from which on the pressure is another by more than the smallest ratio allows, the noise apart.
fn jumps(p: &[f64], noise_kpa: f64) -> Vec<usize> {
    let least = RATIOS[0] * (1.0 - RATIO_SHARE);
    let level = LEVEL_SIGMAS * noise_kpa;
    let far = |w: &[f64; 1 + EDGE]| {
        let (a, b) = (w[0].abs(), w[EDGE].abs());
        // Both on one side of zero, and far from it.
        (w[0] * w[EDGE] > 0.0) & (a > level) & (b > level) & ((a > least * b) | (b > least * a))
    };
    let mut found: Vec<usize> = Vec::new();
    for at in places(p, far).into_iter().map(|at| at + 1) {
        if found.last().is_none_or(|last| at > last + EDGE) {
            found.push(at);
        }
        if found.len() >= LOOKED_AT {
            break;
        }
    }
    found
}

/// The ratio of the levels after and before, where they are those of two ranges.
fn spliced(trace: &Trace, at: usize, window: usize) -> Option<f64> {
    let p = &trace.pressure_kpa;
    let before = p.get(at.checked_sub(window)?..at)?;
    let after = p.get(at + EDGE..at + EDGE + window)?;
    let (a, b) = (
        median(before.get(window - NEAR..)?),
        median(after.get(..NEAR)?),
    );
    let (ratio, up) = if b.abs() > a.abs() {
        (b / a, true)
    } else {
        (a / b, false)
    };
    let known = RATIOS
        .iter()
        .any(|range| (ratio / range - 1.0).abs() < RATIO_SHARE);
    if !known {
        return None;
    }
    let (noise_a, noise_b) = (spread(before), spread(after));
    let noise_ratio = if up {
        noise_b / noise_a
    } else {
        noise_a / noise_b
    };
    if !((ratio / NOISE_FACTOR)..(ratio * NOISE_FACTOR)).contains(&noise_ratio) {
        return None;
    }
    if let Some(volume) = &trace.volume_ml {
        let moved = median(volume.get(at + EDGE..at + EDGE + 3)?) - median(volume.get(at - 3..at)?);
        let (low, high) = super::excerpts::excerpts(volume)
            .flatten()
            .filter(|v| v.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(*v), high.max(*v))
            });
        if moved.abs() > MOVED_SHARE * (high - low) {
            return None;
        }
    }
    Some(b / a)
}

/// Standard deviation of a sample from second differences, so that neither slope nor relaxation counts.
fn spread(values: &[f64]) -> f64 {
    let bends: Vec<f64> = values
        .windows(3)
        .map(|w| w[2] - 2.0 * w[1] + w[0])
        .filter(|bend| bend.is_finite())
        .collect();
    let limit = BEND_SIGMAS * mad_sigma(&bends);
    let squares: f64 = bends
        .iter()
        .map(|bend| bend.clamp(-limit, limit).powi(2))
        .sum();
    (squares / bends.len() as f64 / 6.0).sqrt()
}
