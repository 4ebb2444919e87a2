//! Samples that are no measurement: held, clipped, out of range, spikes of one sample, a dead transducer.

use super::noise::median;
use crate::recording::{Finding, Place, Trace};
use crate::rig::{ChannelSpec, Settings};

/// Bounds on the share of equal neighbours that is taken as chance: none at all and nearly all would make the longest chance run
/// nothing or endless.
const REPEATS: (f64, f64) = (0.02, 0.9);

/// Marks held and clipped stretches of the pressure. A held stretch becomes missing; a clipped one stays at its limit and is flagged.
pub(super) fn judge(
    trace: &mut Trace,
    spec: &ChannelSpec,
    file: &str,
    settings: &Settings,
    findings: &mut Vec<Finding>,
) {
    let p = &mut trace.pressure_kpa;
    if let Some((low, high)) = spec.range {
        let outside: Vec<usize> = (0..p.len())
            .filter(|&i| p[i] < low || p[i] > high)
            .collect();
        if let Some(&first) = outside.first() {
            findings.push(
                Finding::doubt(
                    "out-of-range",
                    format!("{} pressures lie outside the sensor's range of {low} to {high} kPa and are left out", outside.len()),
                )
                .at(Place::line(file, trace.line[first])),
            );
            for &i in &outside {
                p[i] = f64::NAN;
            }
        }
    }
    let runs = equal_runs(p);
    let samples: usize = p.iter().filter(|v| v.is_finite()).count();
    if samples < 3 {
        return;
    }
    // Chance repeats: with a share q of equal neighbours the longest of n samples is about ln n / ln(1/q).
    let equal: usize = runs.iter().map(|r| r.1 - 1).sum::<usize>();
    let typical = (equal as f64 / samples as f64).clamp(REPEATS.0, REPEATS.1);
    let longest_by_chance = (samples as f64).ln() / (1.0 / typical).ln();
    let least = (settings.held_over_chance * longest_by_chance).max(settings.held_samples as f64);
    let top = p
        .iter()
        .copied()
        .filter(|v| v.is_finite())
        .fold(f64::NEG_INFINITY, f64::max);
    let mut held = Vec::new();
    let mut clipped = Vec::new();
    for &(start, length) in &runs {
        if (length as f64) < least {
            continue;
        }
        if p[start] >= top {
            clipped.push((start, length));
        } else {
            held.push((start, length));
        }
    }
    if !clipped.is_empty() {
        // Every sample at the limit is clipped, also those in short stretches.
        let count = (0..p.len())
            .filter(|&i| p[i] >= top)
            .inspect(|&i| trace.clipped[i] = true)
            .count();
        findings.push(
            Finding::doubt(
                "pressure-clipped",
                format!("{count} samples stand at {top:.1} kPa, the limit of the channel; the true pressure was higher"),
            )
            .at(Place::line(file, trace.line[clipped[0].0]))
            .help("use a transducer or an amplifier range above the pressures of the test"),
        );
    }
    if let Some(&(first, _)) = held.first() {
        let seconds: f64 = held
            .iter()
            .map(|&(s, n)| trace.time_s[s + n - 1] - trace.time_s[s])
            .sum();
        findings.push(
            Finding::doubt(
                "pressure-held",
                format!("{} stretches ({seconds:.2} s) repeat one pressure to the last digit; they are left out as not measured", held.len()),
            )
            .at(Place::line(file, trace.line[first])),
        );
        for (start, length) in held {
            // The first sample of a held stretch was measured.
            for value in &mut p[start + 1..start + length] {
                *value = f64::NAN;
            }
        }
    }
}

/// Runs of equal finite neighbours: start and length (2 or more).
fn equal_runs(values: &[f64]) -> Vec<(usize, usize)> {
    let mut runs = Vec::new();
    let mut start = 0;
    for i in 1..=values.len() {
        if i == values.len() || values[i] != values[start] {
            if i - start > 1 && values[start].is_finite() {
                runs.push((start, i - start));
            }
            start = i;
        }
    }
    runs
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
            .at(Place::line(file, trace.line[first])),
        );
        for i in found {
            trace.pressure_kpa[i] = f64::NAN;
        }
    }
}

/// Why a pressure channel shows nothing but its own noise over the whole recording, if so.
pub(super) fn dead(trace: &Trace) -> Option<String> {
    let mut finite: Vec<f64> = trace
        .pressure_kpa
        .iter()
        .copied()
        .filter(|v| v.is_finite())
        .collect();
    finite.sort_by(f64::total_cmp);
    let (low, high) = (
        finite.get(finite.len() / 100)?,
        finite.get(finite.len() - 1 - finite.len() / 100)?,
    );
    let span = high - low;
    let moved = trace
        .volume_ml
        .as_ref()
        .map(|v| {
            v.iter()
                .copied()
                .filter(|x| x.is_finite())
                .fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(x), b.max(x)))
        })
        .map_or(0.0, |(a, b)| b - a);
    // Six standard deviations either side is what noise alone spans; a hold under pressure may do no more, but stands far from zero.
    let noise_only =
        span <= 12.0 * trace.noise_kpa && median(&finite).abs() <= 12.0 * trace.noise_kpa;
    (noise_only || span <= trace.noise_kpa)
        .then(|| format!("the pressure stays within {span:.2} kPa over the whole recording although {moved:.2} mL were moved"))
}
