//! Stretches that repeat one pressure: a held channel, or a channel at one of its limits.

use super::excerpts::{excerpts, grain};
use super::{Channel, Said, counted, median};
use crate::calibrate::stretches::{SHARE, blocks, extremes, holds, pieces, samples, stretches};
use crate::recording::{Finding, Trace};
use crate::rig::Settings;
use rayon::prelude::*;

/// Bounds on the share of equal neighbours that is taken as chance: none at all and nearly all would make the longest chance run
/// nothing or endless. Noise of half a step, the least that counts as noise here, repeats six in ten.
const REPEATS: (f64, f64) = (0.02, 0.6);
/// Neighbours among which noise is looked for: short against a hold, also at ten samples a second.
const CHUNK: usize = 8;
/// A channel shows its noise where neighbours at rest differ by this many steps: one that flips between two steps never does.
const NOISE_STEPS: f64 = 1.5;
/// Fewest chunks at rest, and least share of the chunks that move at all, in which noise must be seen.
const NOISY: (usize, f64) = (5, 0.1);
/// A step that hides the noise stands still while the pressure does. It is held where this share of the volume moved meanwhile ...
const MOVED_SHARE: f64 = 0.02;
/// ... from this share of the highest pressure on: below, a balloon fills without pressure.
const PRESSED_SHARE: f64 = 0.1;
/// A reading this close to an end of the declared range, as a share of the range, is at it: the rounding of a converter of 10 bits.
const AT_END: f64 = 1e-3;

/// Held, clipped and floored stretches. A held stretch is left out but for its first sample; a clipped one stays at its limit and is
/// flagged; a floored one stays.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let p = &trace.pressure_kpa;
    let seen = Repeats::of(p);
    // One value throughout is no limit, but a dead channel.
    if seen.samples < 3 || seen.top <= seen.low || seen.longest < channel.settings.held_samples {
        return Said::default();
    }
    let step = grain(p);
    let least = seen.least(step.is_some(), channel.settings);
    if (seen.longest as f64) < least {
        return Said::default();
    }
    let sees_noise = step.is_none_or(|step| shows_noise(p, step));
    let (mut held, mut clipped, mut floored) = (Vec::new(), false, false);
    each_run(p, |start, end| {
        if ((end - start) as f64) < least {
            return;
        }
        let value = p[start];
        let at_end = |pick: fn((f64, f64)) -> f64| {
            channel
                .spec
                .range
                .is_some_and(|range| (value - pick(range)).abs() <= AT_END * (range.1 - range.0))
        };
        let no_measurement = sees_noise || moved(trace, (start, end), seen.top);
        if value >= seen.top {
            clipped |= no_measurement || at_end(|range| range.1);
        } else if value <= seen.low {
            floored |= sees_noise || at_end(|range| range.0);
        } else if no_measurement {
            held.push((start, end));
        }
    });
    let mut said = Said::default();
    if clipped {
        said.at_limit = stretches(p, |v| v == seen.top);
        let finding = clipped_finding(trace, channel, &said.at_limit, seen.top);
        said.findings.push(finding);
    }
    if floored {
        let at = stretches(p, |v| v == seen.low);
        said.findings
            .push(floor_finding(trace, channel, &at, seen.low));
        said.noise_at_least = noise_above(p, seen.low);
    }
    if !held.is_empty() {
        said.findings.push(held_finding(trace, channel, &mut held));
        said.left_out = held;
    }
    said
}

fn clipped_finding(
    trace: &Trace,
    channel: &Channel<'_>,
    at: &[(usize, usize)],
    top: f64,
) -> Finding {
    let count = samples(at);
    let finding = Finding::doubt(
        "pressure-clipped",
        format!("{count} samples stand at {top:.1} kPa, the limit of the channel; the true pressure was higher"),
    )
    .effect(format!(
        "{} kept at the limit and marked: a pressure read there is at least that high",
        counted(count, "sample")
    ))
    .help("use a transducer or an amplifier range above the pressures of the test");
    channel.over(finding, trace, at)
}

fn floor_finding(trace: &Trace, channel: &Channel<'_>, at: &[(usize, usize)], low: f64) -> Finding {
    let count = samples(at);
    let finding = Finding::doubt(
        "pressure-floor",
        format!("{count} samples stand at {low:.1} kPa, the lowest the channel reads; the true pressure was lower"),
    )
    .effect(format!(
        "{} kept; a zero taken there is too high",
        counted(count, "sample")
    ))
    .help("use a channel that reads below ambient pressure");
    channel.over(finding, trace, at)
}

/// The finding, and the stretches as they are left out: the first sample of each was measured.
fn held_finding(trace: &Trace, channel: &Channel<'_>, held: &mut Vec<(usize, usize)>) -> Finding {
    let seconds: f64 = held
        .iter()
        .map(|&(start, end)| trace.time_s[end - 1] - trace.time_s[start])
        .sum();
    for stretch in &mut *held {
        stretch.0 += 1;
    }
    let count = samples(held);
    let finding = Finding::doubt(
        "pressure-held",
        format!(
            "{} ({seconds:.2} s) repeat one pressure to the last digit; they are left out as not measured",
            counted(held.len(), "stretch").replace("stretchs", "stretches")
        ),
    )
    .effect(format!(
        "{} of {} left out",
        counted(count, "sample"),
        trace.len()
    ))
    .help("look for a logger that lost its link or repeats its last reading");
    channel.over(finding, trace, held)
}

/// True where volume moved into or out of a balloon under pressure during a stretch.
fn moved(trace: &Trace, (start, end): (usize, usize), top: f64) -> bool {
    let Some(volume) = &trace.volume_ml else {
        return false;
    };
    let p = &trace.pressure_kpa;
    let vent = median(&p[..3.min(p.len())]);
    if p[start] - vent < PRESSED_SHARE * (top - vent) {
        return false;
    }
    let (low, high) = excerpts(volume)
        .flatten()
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(*v), high.max(*v))
        });
    let few = 3.min(end - start);
    let change = median(&volume[end - few..end]) - median(&volume[start..start + few]);
    change.abs() > MOVED_SHARE * (high - low)
}

/// A few neighbours.
struct Chunk<'a> {
    values: &'a [f64],
    /// Standard deviation of a sample, from the differences of neighbours.
    sigma: f64,
    /// Largest difference of neighbours.
    largest: f64,
    /// True where they go neither up nor down.
    rests: bool,
}

/// The chunks of the excerpts in which most neighbours differ.
fn chunks(p: &[f64]) -> impl Iterator<Item = Chunk<'_>> {
    excerpts(p)
        .flat_map(|part| part.chunks_exact(CHUNK))
        .filter_map(|values| {
            let (mut squares, mut equal, mut largest) = (0.0, 0_usize, 0.0_f64);
            for w in values.windows(2) {
                let step = (w[1] - w[0]).abs();
                squares += step * step;
                largest = largest.max(step);
                equal += usize::from(step == 0.0);
            }
            let pairs = CHUNK - 1;
            if !f64::is_finite(squares) || 2 * equal > pairs {
                return None;
            }
            let mean = |half: &[f64]| half.iter().sum::<f64>() / half.len() as f64;
            let (first, second) = values.split_at(CHUNK / 2);
            let usual = (squares / pairs as f64).sqrt();
            Some(Chunk {
                values,
                sigma: usual / std::f64::consts::SQRT_2,
                largest,
                rests: (mean(second) - mean(first)).abs() < usual,
            })
        })
}

/// True where the channel shows noise wider than its step while it rests, so that a stretch without any is no measurement.
fn shows_noise(p: &[f64], step: f64) -> bool {
    let (mut moving, mut noisy) = (0_usize, 0_usize);
    for chunk in chunks(p) {
        moving += 1;
        noisy += usize::from(chunk.rests && chunk.largest >= NOISE_STEPS * step);
    }
    noisy >= NOISY.0 && noisy as f64 >= NOISY.1 * moving as f64
}

/// The noise at rest away from the floor, where there is none; 0 where it is not seen.
fn noise_above(p: &[f64], floor: f64) -> f64 {
    let sigmas: Vec<f64> = chunks(p)
        .filter(|chunk| chunk.rests && !chunk.values.contains(&floor))
        .map(|chunk| chunk.sigma)
        .collect();
    let sigma = median(&sigmas);
    if sigma.is_finite() { sigma } else { 0.0 }
}

/// How often neighbours are equal.
struct Repeats {
    samples: usize,
    /// Runs of equal neighbours, single samples among them, and those of two or more.
    runs: usize,
    repeated: usize,
    longest: usize,
    low: f64,
    top: f64,
}

impl Repeats {
    fn of(values: &[f64]) -> Self {
        let (low, top) = extremes(values);
        let equal = pieces(values.len(), 1)
            .into_par_iter()
            .map(|piece| Equal::of(&values[piece]))
            .reduce(Equal::default, Equal::and);
        Self {
            samples: values
                .par_chunks(SHARE)
                .map(|part| part.iter().filter(|v| v.is_finite()).count())
                .sum(),
            runs: values.len() - equal.pairs,
            repeated: equal.runs,
            longest: if equal.runs > 0 { equal.longest + 1 } else { 0 },
            low,
            top,
        }
    }

    /// Length from which equal neighbours are no chance: with a share q of them the longest of n samples is about ln n / ln(1/q).
    /// Where steps are seen, q is as large as noise allows.
    fn least(&self, steps: bool, settings: &Settings) -> f64 {
        let share = if steps {
            REPEATS.1
        } else {
            // A held stretch is one run, so that it does not make repeats look usual.
            (self.repeated as f64 / self.runs.max(1) as f64).clamp(REPEATS.0, REPEATS.1)
        };
        let by_chance = (self.samples as f64).ln() / (1.0 / share).ln();
        (settings.held_over_chance * by_chance).max(settings.held_samples as f64)
    }
}

/// Pairs of equal neighbours, and how they follow on each other.
#[derive(Debug, Clone, Copy, Default)]
struct Equal {
    /// Pairs looked at, and those that are equal.
    all: usize,
    pairs: usize,
    /// Unbroken runs of equal pairs, and how many the longest one is.
    runs: usize,
    longest: usize,
    /// Equal pairs with which it begins and ends.
    first: usize,
    last: usize,
}

impl Equal {
    /// The pairs of neighbours among some values.
    fn of(values: &[f64]) -> Self {
        blocks(0..values.len(), 2)
            .map(|block| Self::of_block(&values[block]))
            .fold(Self::default(), Self::and)
    }

    fn of_block(values: &[f64]) -> Self {
        let equal = |w: &[f64; 2]| w[0] == w[1];
        // Most columns repeat nothing over long stretches.
        if !holds(values, equal) {
            return Self {
                all: values.len().saturating_sub(1),
                ..Self::default()
            };
        }
        let one = |w| {
            let pairs = usize::from(equal(w));
            Self {
                all: 1,
                pairs,
                runs: pairs,
                longest: pairs,
                first: pairs,
                last: pairs,
            }
        };
        values
            .array_windows()
            .map(one)
            .fold(Self::default(), Self::and)
    }

    /// These pairs, then those that follow.
    fn and(self, next: Self) -> Self {
        let joined = self.last > 0 && next.first > 0;
        Self {
            all: self.all + next.all,
            pairs: self.pairs + next.pairs,
            runs: self.runs + next.runs - usize::from(joined),
            longest: self.longest.max(next.longest).max(self.last + next.first),
            first: if self.first == self.all {
                self.all + next.first
            } else {
                self.first
            },
            last: if next.last == next.all {
                self.last + next.all
            } else {
                next.last
            },
        }
    }
}

/// Calls with first sample and one past the last of every run of equal neighbours (2 or more).
fn each_run(values: &[f64], mut call: impl FnMut(usize, usize)) {
    let mut start = 0;
    for i in 1..=values.len() {
        if i == values.len() || values[i] != values[start] {
            if i - start > 1 {
                call(start, i);
            }
            start = i;
        }
    }
}
