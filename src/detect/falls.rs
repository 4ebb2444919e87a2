//! Sudden falls of pressure that moved volume does not explain.

use super::levels::{Probe, Samples, probe};
use super::stiffness::Stiffness;
use crate::balloon::LineModel;
use crate::calibrate::{mad_sigma, median};
use crate::recording::{Phase, PhaseKind, Trace};
use crate::rig::Settings;
use crate::segment::{Motion, State};

/// Lengths of fall looked for, s: a snap with the ring of its transducer, a slow snap, a slip.
const GAPS_S: [f64; 3] = [0.03, 0.12, 0.35];
/// Length of the levels before and after, s.
const LEVEL_S: f64 = 0.1;
/// Fewest samples of a level.
const LEVEL_SAMPLES: usize = 2;
/// The level is looked at again so long before and after: a fall that was not there before and stays is an event.
const STAYS_S: f64 = 0.4;
/// Share of a fall that must be left of it (and not have been there before).
const STAYS_SHARE: f64 = 0.5;
/// Share of the fall by which its first and its last samples are told.
const FIRST_SHARE: f64 = 0.1;
/// A sample has fallen when it has lost this share.
const FALLEN_SHARE: f64 = 0.8;
/// Share of a pressure extrapolated over clipped samples that is taken as its standard uncertainty.
const EXTRAPOLATION_U: f64 = 0.3;

/// A sudden fall.
#[derive(Debug, Clone, PartialEq)]
pub struct Fall {
    /// Last sample (of the trace) certainly before.
    pub before: usize,
    /// First sample certainly in or after the fall.
    pub first: usize,
    /// First sample after the fall.
    pub after: usize,
    /// Onset, s.
    pub t_s: f64,
    /// Earliest onset, s.
    pub t_lo_s: f64,
    /// Latest onset, s.
    pub t_hi_s: f64,
    /// Pressure just before the onset, kPa.
    pub pressure_kpa: f64,
    /// Its standard uncertainty, kPa.
    pub u_pressure_kpa: f64,
    /// Fall, kPa.
    pub drop_kpa: f64,
    /// Its standard uncertainty, kPa.
    pub u_drop_kpa: f64,
    /// Injected volume at the onset, mL; NaN without a channel.
    pub volume_ml: f64,
    /// Shortest time the fall can have taken, s: 0 where it lies between two samples.
    pub took_s: f64,
    /// Threshold it had to pass, kPa.
    pub threshold_kpa: f64,
    /// Volume that went in during the fall, mL.
    pub moved_ml: f64,
    /// Stiffness before, kPa/mL.
    pub stiffness: f64,
    /// True where the samples before stood at the limit of the channel.
    pub clipped: bool,
    /// True where samples are missing inside the interval of the onset.
    pub in_gap: bool,
}

/// One length of fall with the noise of its estimate.
struct Scale {
    gap: usize,
    sigma: f64,
}

/// All sudden falls under pressure in time order, and the smallest that would have been seen at rest (kPa).
pub fn find_falls(
    trace: &Trace,
    phases: &[Phase],
    motion: &Motion,
    line: Option<&LineModel>,
    settings: &Settings,
) -> (Vec<Fall>, f64) {
    let samples = Samples::of(trace, motion, line);
    let n = ((LEVEL_S / trace.step_s).round() as usize).clamp(LEVEL_SAMPLES, 400);
    if samples.len() < 4 * n {
        return (Vec::new(), f64::NAN);
    }
    let stiffness = Stiffness::of(&samples);
    let under = under_pressure(&samples, phases);
    let mut gaps: Vec<usize> = GAPS_S
        .iter()
        .map(|s| ((s / trace.step_s).round() as usize).max(1))
        .collect();
    gaps.dedup();
    let scales: Vec<Scale> = gaps
        .into_iter()
        .map(|gap| Scale {
            gap,
            sigma: rest_sigma(&samples, &stiffness, &under, gap, n),
        })
        .collect();
    let mut hits: Vec<(f64, usize, usize, f64)> = Vec::new();
    for scale in &scales {
        peaks(&samples, &stiffness, &under, scale, n, settings, &mut hits);
    }
    hits.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut falls: Vec<Fall> = Vec::new();
    for (_, e, gap, threshold) in hits {
        let Some(fall) = shape(&samples, &stiffness, e, gap, n, threshold, settings) else {
            continue;
        };
        let apart =
            |other: &Fall| (other.t_s - fall.t_s).abs() > GAPS_S[2] + LEVEL_S + trace.step_s;
        if falls.iter().all(apart) {
            falls.push(fall);
        }
    }
    falls.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    let smallest = scales
        .first()
        .map_or(f64::NAN, |s| settings.drop_sigmas * s.sigma);
    (falls, smallest)
}

/// Samples in strokes, holds and refills.
fn under_pressure(samples: &Samples<'_>, phases: &[Phase]) -> Vec<bool> {
    let mut under = vec![false; samples.trace.len()];
    for phase in phases {
        if matches!(
            phase.kind,
            PhaseKind::Stroke | PhaseKind::Hold | PhaseKind::Refill
        ) {
            under[phase.start..phase.end.min(samples.trace.len())].fill(true);
        }
    }
    samples.at.iter().map(|&i| under[i]).collect()
}

/// Standard deviation of the estimated fall where nothing moves (robust), plus its usual creep.
fn rest_sigma(s: &Samples<'_>, k: &Stiffness, under: &[bool], gap: usize, n: usize) -> f64 {
    let least = s.trace.noise_kpa * (2.0 / n as f64).sqrt();
    let stride = (n / 4).max(1);
    let still = |i: usize| s.state(i) == State::Still && under[i] && !s.clipped(i);
    let values: Vec<f64> = (n..s.len().saturating_sub(gap + n))
        .step_by(stride)
        .filter(|&e| still(e + 1 - n) && still(e) && still(e + gap) && still(e + gap + n - 1))
        .filter_map(|e| probe(s, k, e, gap, n).map(|p| p.fall))
        .collect();
    if values.len() < 20 {
        // Too little rest to measure it: white noise, doubled for what is slow in it.
        return 2.0 * least;
    }
    (mad_sigma(&values) + median(&values).abs()).max(least)
}

fn threshold(p: &Probe, pressure: f64, sigma: f64, settings: &Settings) -> f64 {
    (settings.drop_sigmas * sigma).max(settings.drop_share * pressure)
        + settings.volume_share * p.stiffness * p.moved.abs()
}

/// Highest places of every stretch where the fall passes its threshold: score, sample, gap, threshold.
fn peaks(
    s: &Samples<'_>,
    k: &Stiffness,
    under: &[bool],
    scale: &Scale,
    n: usize,
    settings: &Settings,
    hits: &mut Vec<(f64, usize, usize, f64)>,
) {
    let mut best: Option<(f64, usize, usize, f64)> = None;
    for e in n..s.len().saturating_sub(scale.gap + n) {
        let passed = (under[e] && under[e + scale.gap])
            .then(|| probe(s, k, e, scale.gap, n))
            .flatten()
            .filter(|p| !s.clipped(e + scale.gap) && !withdrawal_explains(s, k, e, p, n))
            .map(|p| (p.fall, threshold(&p, s.p[e], scale.sigma, settings)))
            .filter(|(fall, least)| fall > least);
        match passed {
            Some((fall, least)) => {
                if best.is_none_or(|b| fall / least > b.0) {
                    best = Some((fall / least, e, scale.gap, least));
                }
            }
            None => hits.extend(best.take()),
        }
    }
    hits.extend(best);
}

/// A fall while volume comes out is the operator backing off unless it is far larger than the stiffest line could make of it.
fn withdrawal_explains(s: &Samples<'_>, k: &Stiffness, e: usize, p: &Probe, n: usize) -> bool {
    let noise = 3.0 * s.trace.noise_ml * (2.0 / n as f64).sqrt();
    if s.volume.is_none() || p.moved > -noise {
        return false;
    }
    let stiffest = s.stiffest(e).unwrap_or(3.0 * k.past[e].max(k.future[e]));
    p.plain < 1.5 * stiffest * -p.moved
}

/// Places the fall between samples `e` and `e + gap` and measures it; `None` where it is no step that stays.
fn shape(
    s: &Samples<'_>,
    k: &Stiffness,
    e: usize,
    gap: usize,
    n: usize,
    threshold: f64,
    settings: &Settings,
) -> Option<Fall> {
    let rough = probe(s, k, e, gap, n)?;
    if !stays(s, k, e, gap, n, rough.fall) {
        return None;
    }
    let clipped = s.clipped(e);
    let past = if clipped { 0.0 } else { k.past[e] };
    let from = e + 1 - n;
    let base = s.mean_p(from, e + 1) - past * s.mean_v(from, e + 1);
    let lost = |j: usize| base + past * s.v(j) - s.p[j];
    let rest = (from..=e).map(|j| lost(j).powi(2)).sum::<f64>() / n as f64;
    let single = rest.sqrt().max(s.trace.noise_kpa);
    let end = (e + gap + n).min(s.len());
    let fallen = (e..end).find(|&j| lost(j) >= FALLEN_SHARE * rough.fall)?;
    let told = (3.0 * single).max(FIRST_SHARE * rough.fall);
    let mut first = fallen;
    while first > from && lost(first - 1) > told {
        first -= 1;
    }
    // What is less than told may be noise: the onset may lie earlier.
    let mut before = first.checked_sub(1)?;
    while before > from && lost(before) > 1.5 * single && s.t[first] - s.t[before] < LEVEL_S {
        before -= 1;
    }
    let took_s = s.t[fallen] - s.t[first];
    if took_s > settings.fall_longest_s {
        return None;
    }
    let t_s = f64::midpoint(s.t[first - 1], s.t[first]);
    let (t_lo_s, t_hi_s) = (s.t[before], s.t[first]);
    let level = level_before(s, k, before, first, n, clipped, single);
    let after_from = fallen.max(first);
    let after_to = (after_from + n).min(s.len());
    let volume = f64::midpoint(s.v(first - 1), s.v(first));
    let after = s.mean_p(after_from, after_to)
        - k.future[after_from] * (s.mean_v(after_from, after_to) - volume);
    let noise = single / (n as f64).sqrt();
    Some(Fall {
        before: s.at[before],
        first: s.at[first],
        after: s.at[fallen],
        t_s,
        t_lo_s,
        t_hi_s,
        pressure_kpa: level.0,
        u_pressure_kpa: (level.1.powi(2) + s.trace.u_pressure_at(level.0).powi(2)).sqrt(),
        drop_kpa: level.0 - after,
        u_drop_kpa: (level.1.powi(2)
            + noise.powi(2)
            + (s.trace.u_pressure_rel * rough.fall).powi(2))
        .sqrt(),
        volume_ml: if s.volume.is_some() { volume } else { f64::NAN },
        took_s,
        threshold_kpa: threshold,
        moved_ml: rough.moved,
        stiffness: rough.stiffness,
        clipped,
        in_gap: t_hi_s - t_lo_s > 2.5 * s.trace.step_s && first - before == 1,
    })
}

/// A fall that was already there before, or that is gone again soon after, is a transient; one that goes on is no step.
fn stays(s: &Samples<'_>, k: &Stiffness, e: usize, gap: usize, n: usize, fall: f64) -> bool {
    let look = ((STAYS_S / s.trace.step_s).round() as usize).max(2);
    // Half a second later, from the same level before.
    let later = (e + gap + look + n <= s.len())
        .then(|| probe(s, k, e, gap + look, n))
        .flatten();
    let later_ok = later.is_none_or(|p| {
        let slack = 0.5 * p.stiffness * p.moved.abs();
        p.fall > STAYS_SHARE * fall - slack && p.fall < (1.0 + STAYS_SHARE) * fall + slack
    });
    // The level half a second earlier against the level before.
    let earlier = e.checked_sub(look).and_then(|b| {
        (b + 1 >= n)
            .then(|| probe(s, k, b, look + 1 - n.min(look), n))
            .flatten()
    });
    let earlier_ok = earlier.is_none_or(|p| {
        let slack = 0.5 * p.stiffness * p.moved.abs();
        p.fall.abs() < STAYS_SHARE * fall + slack
    });
    later_ok && earlier_ok
}

/// Pressure at the onset from the samples before it, and its standard uncertainty apart from the channel's own.
fn level_before(
    s: &Samples<'_>,
    k: &Stiffness,
    before: usize,
    first: usize,
    n: usize,
    clipped: bool,
    single: f64,
) -> (f64, f64) {
    let volume = f64::midpoint(s.v(first - 1), s.v(first));
    let mut last = before;
    if clipped {
        while last > 0 && s.clipped(last) {
            last -= 1;
        }
    }
    let from = (last + 1).saturating_sub(n);
    let stiffness = k.past[last];
    let level = s.mean_p(from, last + 1);
    let mean_volume = s.mean_v(from, last + 1);
    let extrapolated = stiffness * (volume - mean_volume);
    // Where the pressure rises, an onset known to an interval is a pressure known to an interval (rectangle).
    let (left, right) = (s.v(before), s.v(first));
    let spread = stiffness * (right - left).abs() / 12.0_f64.sqrt();
    let noise = single * (1.0 / n as f64).sqrt();
    let volume_noise = stiffness * s.trace.noise_ml.max(0.0) / 2.0_f64.sqrt();
    let volume_noise = if volume_noise.is_finite() {
        volume_noise
    } else {
        0.0
    };
    let over_clip = if clipped {
        EXTRAPOLATION_U * extrapolated.abs()
    } else {
        0.0
    };
    let slope = if s.volume.is_none() {
        rise_without_volume(s, from, last) * (s.t[first] - s.t[before]) / 12.0_f64.sqrt()
    } else {
        0.0
    };
    let u =
        (noise.powi(2) + spread.powi(2) + volume_noise.powi(2) + over_clip.powi(2) + slope.powi(2))
            .sqrt();
    (level + extrapolated, u)
}

fn rise_without_volume(s: &Samples<'_>, from: usize, to: usize) -> f64 {
    let seconds = s.t[to] - s.t[from];
    if seconds > 0.0 {
        (s.p[to] - s.p[from]).abs() / seconds
    } else {
        0.0
    }
}
