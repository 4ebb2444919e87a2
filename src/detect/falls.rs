//! Sudden falls of pressure that moved volume does not explain.

use super::edge::{Edge, edge, not_yet_falling, onset_of, slow_edge};
use super::false_alarm::Noise;
use super::level::{Level, level_before};
use super::levels::{Probe, SLIP_SHORTEST_S, SNAP_S, Samples, probe};
use super::search::{Hit, Search, withdrawal_explains};
use super::stiffness::Stiffness;
use super::{pressure_only, stopcock};
use crate::balloon::LineModel;
use crate::calibrate::median;
use crate::recording::{Phase, Trace};
use crate::rig::Settings;
use crate::segment::{FILL_SHARE, Motion};

/// Lengths of fall looked for, s: a snap with the ring of its transducer, a slow snap, a slip.
pub(super) const GAPS_S: [f64; 3] = [0.03, 0.12, 0.35];
/// Length of the levels before and after, s.
pub(super) const LEVEL_S: f64 = 0.1;
/// Fewest samples of a level.
const LEVEL_SAMPLES: usize = 2;
/// Most samples of a level: 0.1 s of a 50 kHz recording.
const LEVEL_MOST_SAMPLES: usize = 5000;
/// The level is looked at again so long before and after: a fall that was not there before and stays is an event.
const STAYS_S: f64 = 0.4;
/// Share of a fall that must be left of it (and not have been there before).
const STAYS_SHARE: f64 = 0.5;
/// So many samples on a fall tell its pace.
const ONSET_SAMPLES: usize = 6;
/// Length of the blocks compared to tell the speed of a fall, s: most of a period of mains hum.
pub(super) const BLOCK_S: f64 = 0.012;
/// The fastest part of a fall is looked for so many times in a block.
const LOOKS_IN_BLOCK: usize = 16;
/// A swing so many times larger than what stays of it is a knock on the line, not a fall; a damped ring after a snap stays below.
const KNOCK_SHARE: f64 = 2.5;
/// A slip loses at least this share of its pressure within [`SNAP_S`]; a hand, creep or a leak is steadier.
pub(super) const SLIP_FASTEST_SHARE: f64 = 0.17;
/// The same for a slow clock, where one or two steps are a good part of the time looked at.
const SLIP_FASTEST_SHARE_SLOW: f64 = 0.35;
/// A fall cannot be larger than the pressure there was, by more than this share of it (suction, and the uncertainty of both).
const ALL_OF_IT: f64 = 1.2;
/// ... and beyond so many standard deviations of a sample and of what moved volume explains.
const ALL_SIGMAS: f64 = 6.0;
const MOVED_SIGMAS: f64 = 2.0;
/// On a slow clock a snap lies in so many steps.
const SUDDEN_STEPS: f64 = 2.0;
/// Share of the pressure that a creeping frame loses in a second after a stroke, at most (bench experience, no source).
const CREEPS_PER_S: f64 = 0.03;
/// What is left after a fall shows in this time after it, s: a line swings before.
const SETTLED_S: (f64, f64) = (0.15, 0.5);
/// A pressure is below zero from so many standard uncertainties of a sample and its zero ...
const SUCTION_SIGMAS: f64 = 4.0;
/// ... and this much, kPa: a hand's breadth of water, and the swing of a line.
const SUCTION_KPA: f64 = 5.0;
/// Samples further apart than so many steps have a gap between them.
pub(super) const GAP_STEPS: f64 = 2.5;
/// A fall smaller than so many of its own standard uncertainties is none.
const DROP_OVER_U: f64 = 2.5;
/// Below this share of the highest pressure nothing is loaded that could break.
pub(super) const LOADED_SHARE: f64 = 0.05;

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
    /// The same apart from the channel's own, part by part.
    pub level: Level,
    /// Fall, kPa.
    pub drop_kpa: f64,
    /// Its standard uncertainty, kPa.
    pub u_drop_kpa: f64,
    /// Injected volume at the onset, mL; NaN without a channel.
    pub volume_ml: f64,
    /// Shortest time the fall can have taken, s: 0 where it lies between two samples.
    pub took_s: f64,
    /// True for a snap: nearly all of it within 25 ms, or one or two steps of a slow clock.
    pub fast: bool,
    /// Share of it lost within 25 ms or one step of a slow clock, moved volume explaining as little as it may; none where the channel stood
    /// at its limit.
    pub snap_share: Option<f64>,
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

/// What [`find_falls`] found.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Found {
    /// Sudden falls under pressure, in time order.
    pub falls: Vec<Fall>,
    /// Stretches in which the stopcock was shut: first sample without the balloon's pressure, and first with it again.
    pub shut: Vec<(usize, usize)>,
    /// Smallest fall that would have been seen at rest, kPa; NaN where there are too few samples to tell.
    pub smallest_kpa: f64,
    /// Falls that noise alone makes.
    pub noise: Noise,
}

/// All sudden falls under pressure.
pub fn find_falls(
    trace: &Trace,
    phases: &[Phase],
    motion: &Motion,
    line: Option<&LineModel>,
    settings: &Settings,
) -> Found {
    let n = ((LEVEL_S / trace.step_s).round() as usize).clamp(LEVEL_SAMPLES, LEVEL_MOST_SAMPLES);
    let samples = Samples::of(trace, motion, line, n);
    if samples.len() < 4 * n {
        return Found {
            smallest_kpa: f64::NAN,
            ..Found::default()
        };
    }
    let stiffness = Stiffness::of(&samples);
    let search = Search::of(&samples, &stiffness, phases, settings, n);
    let mut falls: Vec<Fall> = Vec::new();
    for Hit { e, gap, least, .. } in search.hits() {
        // A longer length that sees a fall already placed sees nothing new.
        let (from, to) = (e + 1 - n, e + gap + n - 1);
        if falls
            .iter()
            .any(|f| f.t_s > samples.t(from) && f.t_s < samples.t(to))
        {
            continue;
        }
        let Some(fall) = shape(&samples, &stiffness, e, gap, n, least, settings) else {
            continue;
        };
        // Two snaps may follow each other closely: one break that takes the next with it. A slow fall needs its whole length.
        let apart = |other: &Fall| {
            let least = if fall.fast && other.fast {
                2.0 * LEVEL_S
            } else {
                GAPS_S[2] + LEVEL_S
            };
            (other.t_s - fall.t_s).abs() > least + trace.step_s
        };
        if falls.iter().all(apart) {
            falls.push(fall);
        }
    }
    falls.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    let top = trace.highest_kpa();
    // Without a hand-over of the counter the end of the fill is not seen, and the switch after it would look like a break.
    let loaded = if trace.handover.is_some() {
        LOADED_SHARE
    } else {
        FILL_SHARE
    };
    falls.retain(|fall| fall.pressure_kpa > loaded * top);
    let (falls, shut) = stopcock::take_out(&samples, &stiffness, falls, n);
    Found {
        falls,
        shut,
        smallest_kpa: search.smallest_kpa(),
        noise: search.noise(),
    }
}

/// The whole of a fall, whatever its speed.
pub(super) struct Whole {
    /// Sample the level before ends at.
    pub start: usize,
    /// Samples from there to the level after.
    pub gap: usize,
    /// Fall not explained by volume, kPa.
    pub fall: f64,
    /// Share of it lost within a snap's time.
    pub fastest_share: f64,
    /// That share if moved volume explains as much less as it may.
    pub most_share: f64,
}

/// Looks at the fall between `e` and `e + gap` again over the longest length looked for.
fn whole(
    s: &Samples<'_>,
    k: &Stiffness,
    e: usize,
    gap: usize,
    n: usize,
    volume_share: f64,
) -> Option<Whole> {
    let longest = ((GAPS_S[2] / s.trace.step_s).round() as usize).max(2) + n;
    if !s.has_volume() {
        return pressure_only::whole(s, e, gap, longest, n);
    }
    let start = (e + gap / 2).saturating_sub(longest / 2).max(n);
    let long = probe(s, k, start, longest, n)?;
    // Short blocks on either side keep hum and noise from looking like speed.
    let (snap, block) = (
        s.snap_steps(),
        ((BLOCK_S / s.trace.step_s).round() as usize).max(1),
    );
    let fastest = (start..start + longest)
        .step_by((block / LOOKS_IN_BLOCK).max(1))
        .filter(|j| j + 1 >= block && j + snap + block <= s.len())
        .map(|j| {
            let (from, to) = (j + 1 - block, j + snap);
            s.mean_p(from, j + 1) - s.mean_p(to, to + block)
                + k.past(start) * (s.mean_v(to, to + block) - s.mean_v(from, j + 1))
        })
        .fold(0.0, f64::max);
    Some(Whole {
        start,
        gap: longest,
        fall: long.fall,
        fastest_share: fastest / long.fall.max(1e-9),
        most_share: fastest
            / (long.fall - volume_share * long.stiffness * long.moved.abs())
                .max(fastest)
                .max(1e-9),
    })
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
    let all = whole(s, k, e, gap, n, settings.volume_share);
    if all
        .as_ref()
        .is_some_and(|w| !s.clipped(e) && w.fastest_share > KNOCK_SHARE)
    {
        return None;
    }
    // Of two snaps that follow each other at once each is fast beside its own fall. Without volume a hand would look the same.
    let alone = probe(s, k, e, gap, n).map_or(0.0, |p| p.fall);
    let drags_on =
        |w: &Whole| !s.has_volume() || w.fastest_share * w.fall < settings.snap_share * alone;
    let slow = all.as_ref().filter(|w| {
        !s.clipped(e) && w.fall > threshold && w.most_share < settings.snap_share && drags_on(w)
    });
    let (e, gap) = slow.map_or((e, gap), |w| (w.start, w.gap));
    let rough = probe(s, k, e, gap, n)?;
    // The clearest place may be one where the level before already holds a sample of the fall.
    let last = if slow.is_none() {
        not_yet_falling(s, k, e, n, rough.fall)
    } else {
        e
    };
    let (e, gap) = (last, gap + e - last);
    let rough = probe(s, k, e, gap, n)?;
    // Looked at over its whole length, more may have come out than where it was found.
    if slow.is_some() && withdrawal_explains(s, k, e, &rough, n) {
        return None;
    }
    let stands = match (&all, s.has_volume()) {
        (_, true) => stays(s, k, e, gap, n, rough.fall, threshold),
        (Some(whole), false) => pressure_only::stands(s, whole, slow.is_some()),
        (None, false) => false,
    };
    if !stands {
        return None;
    }
    let found = if let Some(whole) = &slow {
        slow_edge(s, k, whole, if s.has_volume() { n } else { 2 })?
    } else {
        // Once placed, the level before is taken right up to the edge, and the edge placed again against it.
        let found = edge(s, k, e, gap, n, rough.fall)?;
        let last = found.first - 1;
        edge(s, k, last, gap.max(found.fallen - last), n, rough.fall).unwrap_or(found)
    };
    let Edge {
        before,
        first,
        fallen,
        single,
    } = found;
    let took_s = s.t(fallen) - s.t(first);
    // One sample of the level before at the limit is enough: the others are of a fall already.
    let clipped = s.any_clipped(first.saturating_sub(n), first);
    // A fall that is slow, but over its whole length not large enough for one, is a stiffness misjudged.
    let sudden = SLIP_SHORTEST_S.max(SUDDEN_STEPS * s.trace.step_s);
    let is_slow = |w: &Whole| w.most_share < settings.snap_share;
    let misjudged =
        slow.is_none() && !clipped && took_s > sudden && all.as_ref().is_some_and(is_slow);
    if took_s > settings.fall_longest_s || misjudged {
        return None;
    }
    let between = || {
        let (lo, hi) = (s.t(before), s.t(first));
        // Beyond the limit of the channel a snap may have begun as much earlier as it takes.
        let hidden = if clipped { SNAP_S } else { 0.0 };
        (onset(s, first, fallen).clamp(lo, hi), lo - hidden, hi)
    };
    // Samples at the limit of the channel tell nothing of how the fall begins, nor do gaps.
    let gap_here = s.t(first) - s.t(first - 1) > GAP_STEPS * s.trace.step_s;
    let told = (slow.is_none() && !clipped && !gap_here)
        .then(|| onset_of(s, k, &found, n, rough.fall))
        .flatten();
    let (t_s, t_lo_s, t_hi_s) = told.unwrap_or_else(between);
    let level = level_before(s, k, (before, first), n, clipped, single);
    let after_to = (fallen + n).min(s.len());
    let volume = f64::midpoint(s.v_up_to(first - 1), s.v_from(first));
    let after = if s.has_volume() {
        s.mean_p(fallen, after_to) - k.future(fallen) * (s.mean_v(fallen, after_to) - volume)
    } else {
        pressure_only::level_at(s, fallen, after_to, t_s).0
    };
    let drop_kpa = level.kpa - after;
    let noise = single / (n as f64).sqrt();
    let u_drop_kpa =
        (level.u().powi(2) + noise.powi(2) + (s.trace.u_pressure_rel * drop_kpa).powi(2)).sqrt();
    // A frame that creeps after a stroke loses some of its pressure as well, while a slow clock ticks and in a gap.
    let creeps = CREEPS_PER_S * (s.t(fallen) - s.t(first - 1)) * level.kpa;
    if drop_kpa < threshold + creeps || drop_kpa < DROP_OVER_U * u_drop_kpa {
        return None;
    }
    // Nothing that breaks or empties pulls: below zero a stopcock was turned or a hand drew back.
    let suction = SUCTION_SIGMAS * s.trace.noise_kpa.hypot(s.trace.u_zero_at(t_s)) + SUCTION_KPA;
    if after < 0.0 && settled(s, fallen) < -suction {
        return None;
    }
    // How stiff everything was while it broke is known less well than before or after.
    let u_moved = settings.volume_share * rough.stiffness * rough.moved.abs();
    if drop_kpa > ALL_OF_IT * level.kpa + ALL_SIGMAS * s.trace.noise_kpa + MOVED_SIGMAS * u_moved {
        return None;
    }
    // Creep after a stroke is slow and small; a slip is neither that steady nor that small.
    let steadiest = if s.trace.step_s <= SNAP_S {
        SLIP_FASTEST_SHARE
    } else {
        SLIP_FASTEST_SHARE_SLOW
    };
    let steady = slow.is_some_and(|w| w.fastest_share < steadiest);
    if slow.is_some() && (steady || drop_kpa < settings.slow_drop_share * level.kpa) {
        return None;
    }
    Some(Fall {
        before: s.index(before),
        first: s.index(first),
        after: s.index(fallen),
        t_s,
        t_lo_s,
        t_hi_s,
        pressure_kpa: level.kpa,
        u_pressure_kpa: level.u().hypot(s.trace.u_pressure_at(level.kpa, t_s)),
        level,
        drop_kpa,
        u_drop_kpa: u_drop_kpa.hypot(u_moved),
        volume_ml: if s.has_volume() { volume } else { f64::NAN },
        took_s,
        fast: slow.is_none(),
        snap_share: all
            .as_ref()
            .filter(|_| !s.clipped(e))
            .map(|whole| whole.most_share),
        threshold_kpa: threshold,
        moved_ml: rough.moved,
        stiffness: rough.stiffness,
        clipped,
        in_gap: t_hi_s - t_lo_s > GAP_STEPS * s.trace.step_s && first - before == 1,
    })
}

/// A fall that was already there before, or that is gone again soon after, is a transient; one that goes on at the same pace is no step.
fn stays(
    s: &Samples<'_>,
    k: &Stiffness,
    e: usize,
    gap: usize,
    n: usize,
    fall: f64,
    threshold: f64,
) -> bool {
    let look = ((STAYS_S / s.trace.step_s).round() as usize).max(2);
    // What goes on at its pace doubles in the time it took between the middles of both levels; a second break comes later than that.
    let again = (gap + n).min(look);
    let slack = |p: &Probe| 0.5 * p.stiffness * p.moved.abs();
    // From the same level before to a later one.
    let later = |look: usize| {
        (e + gap + look + n <= s.len())
            .then(|| probe(s, k, e, gap + look, n))
            .flatten()
    };
    let gone = later(look).is_some_and(|p| p.fall <= STAYS_SHARE * fall - slack(&p));
    let goes_on = later(again).is_some_and(|p| p.fall >= (1.0 + STAYS_SHARE) * fall + slack(&p));
    if gone || goes_on {
        return false;
    }
    // An earlier level against the level before.
    let earlier = |look: usize| {
        let span = (look + 1).saturating_sub(n).max(1);
        e.checked_sub(look)
            .filter(|b| b + 1 >= n)
            .and_then(|b| probe(s, k, b, span, n).map(|p| (b, span, p)))
    };
    let sprung = earlier(look).is_some_and(|(_, _, p)| -p.fall >= STAYS_SHARE * fall + slack(&p));
    let was_falling = earlier(again).is_some_and(|(b, span, p)| {
        let pace = (p.fall - slack(&p)).max(0.0)
            / (s.t((b + span + n / 2).min(e)) - s.t(b - n / 2)).max(s.trace.step_s);
        let trend = pace * (s.t(e + gap + n / 2) - s.t(e - n / 2));
        p.fall >= STAYS_SHARE * fall + slack(&p) || fall - trend <= threshold
    });
    !sprung && !was_falling
}

/// Pressure left once the line has swung out, kPa; positive infinity where the recording ends before.
fn settled(s: &Samples<'_>, fallen: usize) -> f64 {
    let from = s.first_since(s.t(fallen) + SETTLED_S.0);
    let to = s.first_since(s.t(fallen) + SETTLED_S.1).max(from + 1);
    if to > s.len() {
        return f64::INFINITY;
    }
    median(&(from..to).map(|i| s.p(i)).collect::<Vec<_>>())
}

/// Best time of the onset: where several samples lie on the fall, its first pace carried back to the level before; else the
/// middle of the step it lies in.
fn onset(s: &Samples<'_>, first: usize, fallen: usize) -> f64 {
    let middle = f64::midpoint(s.t(first - 1), s.t(first));
    let on_the_fall = fallen - first;
    if on_the_fall < ONSET_SAMPLES {
        return middle;
    }
    let early = first + on_the_fall / 3;
    let pace = (s.p(first) - s.p(early)) / (s.t(early) - s.t(first));
    let lost = s
        .p(first - 1)
        .max(s.mean_p(first.saturating_sub(on_the_fall), first))
        - s.p(first);
    if pace > 0.0 {
        s.t(first) - (lost / pace).max(0.0)
    } else {
        middle
    }
}
