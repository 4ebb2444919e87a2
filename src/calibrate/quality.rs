//! Samples that are no measurement: held, clipped, out of range, spikes of one sample, a dead transducer.

use super::noise::median;
use crate::recording::{Finding, Place, Trace};
use crate::rig::{ChannelSpec, Settings};

/// Bounds on the share of equal neighbours that is taken as chance: none at all and nearly all would make the longest chance run
/// nothing or endless.
const REPEATS: (f64, f64) = (0.02, 0.9);

/// Marks held and clipped stretches of the pressure. A held stretch becomes missing; a clipped one stays at its limit and is flagged.
/// Gives the number of usable samples.
pub(super) fn judge(
    trace: &mut Trace,
    spec: &ChannelSpec,
    file: &str,
    settings: &Settings,
    findings: &mut Vec<Finding>,
) -> usize {
    if let Some(range) = spec.range {
        leave_out_of_range(trace, range, file, findings);
    }
    let seen = Repeats::of(&trace.pressure_kpa);
    if seen.samples < 3 {
        return seen.samples;
    }
    let least = seen.least(settings);
    if (seen.longest as f64) < least {
        return seen.samples;
    }
    let (mut held, mut clipped) = (Vec::new(), None);
    each_run(&trace.pressure_kpa, |start, length| {
        if (length as f64) < least {
        } else if trace.pressure_kpa[start] >= seen.top {
            clipped.get_or_insert(start);
        } else {
            held.push((start, length));
        }
    });
    if let Some(first) = clipped {
        // Every sample at the limit is clipped, also those in short stretches.
        let mut count = 0;
        for (p, flag) in trace.pressure_kpa.iter().zip(&mut trace.clipped) {
            *flag = *p >= seen.top;
            count += usize::from(*flag);
        }
        findings.push(
            Finding::doubt(
                "pressure-clipped",
                format!(
                    "{count} samples stand at {:.1} kPa, the limit of the channel; the true pressure was higher",
                    seen.top
                ),
            )
            .at(Place::line(file, trace.line.at(first)))
            .help("use a transducer or an amplifier range above the pressures of the test"),
        );
    }
    seen.samples - leave_out_held(trace, &held, file, findings)
}

fn leave_out_of_range(
    trace: &mut Trace,
    (low, high): (f64, f64),
    file: &str,
    findings: &mut Vec<Finding>,
) {
    let (mut count, mut first) = (0_usize, None);
    for (sample, p) in trace.pressure_kpa.iter_mut().enumerate() {
        if *p < low || *p > high {
            *p = f64::NAN;
            count += 1;
            first.get_or_insert(sample);
        }
    }
    if let Some(first) = first {
        findings.push(
            Finding::doubt(
                "out-of-range",
                format!("{count} pressures lie outside the sensor's range of {low} to {high} kPa and are left out"),
            )
            .at(Place::line(file, trace.line.at(first))),
        );
    }
}

/// Leaves held stretches out, and says how many samples that are.
fn leave_out_held(
    trace: &mut Trace,
    held: &[(usize, usize)],
    file: &str,
    findings: &mut Vec<Finding>,
) -> usize {
    let Some(&(first, _)) = held.first() else {
        return 0;
    };
    let seconds: f64 = held
        .iter()
        .map(|&(s, n)| trace.time_s[s + n - 1] - trace.time_s[s])
        .sum();
    findings.push(
        Finding::doubt(
            "pressure-held",
            format!("{} stretches ({seconds:.2} s) repeat one pressure to the last digit; they are left out as not measured", held.len()),
        )
        .at(Place::line(file, trace.line.at(first))),
    );
    let mut left_out = 0;
    for &(start, length) in held {
        // The first sample of a held stretch was measured.
        trace.pressure_kpa[start + 1..start + length].fill(f64::NAN);
        left_out += length - 1;
    }
    left_out
}

/// How often neighbours are equal.
struct Repeats {
    samples: usize,
    equal: usize,
    longest: usize,
    top: f64,
}

impl Repeats {
    fn of(values: &[f64]) -> Self {
        let mut seen = Self {
            samples: 0,
            equal: 0,
            longest: 0,
            top: f64::NEG_INFINITY,
        };
        let (mut last, mut length) = (f64::NAN, 0_usize);
        for &value in values {
            seen.samples += usize::from(value.is_finite());
            seen.top = seen.top.max(value);
            if value == last {
                length += 1;
                seen.equal += 1;
                seen.longest = seen.longest.max(length);
            } else {
                length = 1;
                last = value;
            }
        }
        seen
    }

    /// Length from which equal neighbours are no chance: with a share q of them the longest of n samples is about ln n / ln(1/q).
    fn least(&self, settings: &Settings) -> f64 {
        let typical = (self.equal as f64 / self.samples as f64).clamp(REPEATS.0, REPEATS.1);
        let by_chance = (self.samples as f64).ln() / (1.0 / typical).ln();
        (settings.held_over_chance * by_chance).max(settings.held_samples as f64)
    }
}

/// Calls with start and length of every run of equal neighbours (2 or more).
fn each_run(values: &[f64], mut call: impl FnMut(usize, usize)) {
    let mut start = 0;
    for i in 1..=values.len() {
        if i == values.len() || values[i] != values[start] {
            if i - start > 1 {
                call(start, i - start);
            }
            start = i;
        }
    }
}

/// A single sample far from both neighbours, which agree with each other: no volume can come and go in one sample.
pub(super) fn spikes(
    trace: &mut Trace,
    file: &str,
    settings: &Settings,
    findings: &mut Vec<Finding>,
) {
    let p = &trace.pressure_kpa;
    let least = settings.spike_sigmas * trace.noise_kpa;
    let found: Vec<usize> = (2..p.len().saturating_sub(2))
        .filter(|&i| {
            let (before, here, after) = (p[i - 1], p[i], p[i + 1]);
            let height = (here - before).abs().min((here - after).abs());
            if height <= least {
                return false;
            }
            let same_side = (here - before) * (here - after) > 0.0;
            let around = (p[i - 2] - before)
                .abs()
                .max((p[i + 2] - after).abs())
                .max((after - before).abs());
            same_side && height > least && around < settings.spike_neighbours * height
        })
        .collect();
    if let Some(&first) = found.first() {
        findings.push(
            Finding::doubt(
                "spikes",
                format!(
                    "{} single samples stand off from both neighbours and are left out",
                    found.len()
                ),
            )
            .at(Place::line(file, trace.line.at(first))),
        );
        for i in found {
            trace.pressure_kpa[i] = f64::NAN;
        }
    }
}

/// Noise alone spans six standard deviations either side.
const NOISE_SPAN: f64 = 12.0;
/// One sample of so many at either end counts for nothing where the span is taken: spikes do not make a channel move.
const ENDS: usize = 100;
/// So many samples, spread evenly over the recording, tell whether it moves.
const LOOKED_AT: usize = 50_000;

/// Why a pressure channel shows nothing but its own noise over the whole recording, if so.
pub(super) fn dead(trace: &Trace) -> Option<String> {
    let stride = (trace.len() / LOOKED_AT).max(1);
    let mut finite: Vec<f64> = trace
        .pressure_kpa
        .iter()
        .step_by(stride)
        .copied()
        .filter(|v| v.is_finite())
        .collect();
    finite.sort_by(f64::total_cmp);
    let (low, high) = (
        finite.get(finite.len() / ENDS)?,
        finite.get(finite.len() - 1 - finite.len() / ENDS)?,
    );
    let span = high - low;
    // A hold under pressure may do no more than noise, but stands far from zero.
    let noise = NOISE_SPAN * trace.noise_kpa;
    let noise_only = span <= noise && median(&finite).abs() <= noise;
    if !noise_only && span > trace.noise_kpa {
        return None;
    }
    let moved = trace.volume_ml.as_ref().map_or(0.0, |volume| {
        let (low, high) = volume
            .iter()
            .filter(|x| x.is_finite())
            .fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(*x), b.max(*x)));
        high - low
    });
    Some(format!(
        "the pressure stays within {span:.2} kPa over the whole recording although {moved:.2} mL were moved"
    ))
}
