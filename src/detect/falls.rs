//! Sudden falls of pressure that moved volume does not explain.

use super::edge::{Edge, edge, not_yet_falling, onset_of, slow_edge};
use super::false_alarm::Noise;
use super::level::{Level, level_before};
use super::levels::{Probe, Samples, probe};
use super::search::{Hit, Search, withdrawal_explains};
use super::stiffness::Stiffness;
use super::{pressure_only, stopcock};
use crate::balloon::LineModel;
use crate::calibrate::median;
use crate::recording::{Phase, Trace};
use crate::rig::Settings;
use crate::segment::Motion;

/// Most samples of a level: 0.1 s of a 50 kHz recording.
const LEVEL_MOST_SAMPLES: usize = 5000;
/// The fastest part of a fall is looked for so many times in a block.
const LOOKS_IN_BLOCK: usize = 16;

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
    let is = &settings.falls;
    let n = (is.level_s / trace.step_s).round() as usize;
    let n = n.max(is.level_least_samples).min(LEVEL_MOST_SAMPLES);
    let samples = Samples::of(trace, motion, line, settings, n);
    if samples.len() < 4 * n {
        return Found {
            smallest_kpa: f64::NAN,
            ..Found::default()
        };
    }
    let stiffness = Stiffness::of(&samples);
    let search = Search::of(&samples, &stiffness, phases, n);
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
        let Some(fall) = shape(&samples, &stiffness, e, gap, n, least) else {
            continue;
        };
        // Two snaps may follow each other closely: one break that takes the next with it. A slow fall needs its whole length.
        let apart = |other: &Fall| {
            let least = if fall.fast && other.fast {
                is.snaps_apart_levels * is.level_s
            } else {
                is.gap_slip_s + is.level_s
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
        is.loaded_share
    } else {
        settings.phases.fill_share
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
fn whole(s: &Samples<'_>, k: &Stiffness, e: usize, gap: usize, n: usize) -> Option<Whole> {
    let is = &s.settings.falls;
    let longest = ((is.gap_slip_s / s.trace.step_s).round() as usize).max(2) + n;
    if !s.has_volume() {
        return pressure_only::whole(s, e, gap, longest, n);
    }
    let start = (e + gap / 2).saturating_sub(longest / 2).max(n);
    let long = probe(s, k, start, longest, n)?;
    // Short blocks on either side keep hum and noise from looking like speed.
    let (snap, block) = (
        s.snap_steps(),
        ((is.block_s / s.trace.step_s).round() as usize).max(1),
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
            / (long.fall - s.settings.volume_share * long.stiffness * long.moved.abs())
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
) -> Option<Fall> {
    let (settings, is) = (s.settings, &s.settings.falls);
    let all = whole(s, k, e, gap, n);
    if all
        .as_ref()
        .is_some_and(|w| !s.clipped(e) && w.fastest_share > is.knock_ratio)
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
    let sudden = is.slip_shortest_s.max(is.sudden_steps * s.trace.step_s);
    let is_slow = |w: &Whole| w.most_share < settings.snap_share;
    let misjudged =
        slow.is_none() && !clipped && took_s > sudden && all.as_ref().is_some_and(is_slow);
    if took_s > settings.fall_longest_s || misjudged {
        return None;
    }
    let between = || {
        let (lo, hi) = (s.t(before), s.t(first));
        // Beyond the limit of the channel a snap may have begun as much earlier as it takes.
        let hidden = if clipped { is.snap_s } else { 0.0 };
        (onset(s, first, fallen).clamp(lo, hi), lo - hidden, hi)
    };
    // Samples at the limit of the channel tell nothing of how the fall begins, nor do gaps.
    let gap_here = s.t(first) - s.t(first - 1) > is.gap_steps * s.trace.step_s;
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
    let creeps = is.creeps_share_per_s * (s.t(fallen) - s.t(first - 1)) * level.kpa;
    if drop_kpa < threshold + creeps || drop_kpa < is.drop_sigmas * u_drop_kpa {
        return None;
    }
    // Nothing that breaks or empties pulls: below zero a stopcock was turned or a hand drew back.
    let suction =
        is.suction_sigmas * s.trace.noise_kpa.hypot(s.trace.u_zero_at(t_s)) + is.suction_kpa;
    if after < 0.0 && settled(s, fallen) < -suction {
        return None;
    }
    // How stiff everything was while it broke is known less well than before or after.
    let u_moved = settings.volume_share * rough.stiffness * rough.moved.abs();
    if drop_kpa
        > is.all_of_it_ratio * level.kpa
            + is.all_sigmas * s.trace.noise_kpa
            + is.moved_sigmas * u_moved
    {
        return None;
    }
    // Creep after a stroke is slow and small; a slip is neither that steady nor that small.
    let steadiest = if s.trace.step_s <= is.snap_s {
        is.slip_fastest_share
    } else {
        is.slip_fastest_slow_clock_share
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
        u_drop_kpa: u_drop_kpa.hypot(u_moved).hypot(swing(s, fallen, single)),
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
        in_gap: t_hi_s - t_lo_s > is.gap_steps * s.trace.step_s && first - before == 1,
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
    let is = &s.settings.falls;
    let look = ((is.stays_s / s.trace.step_s).round() as usize).max(2);
    // What goes on at its pace doubles in the time it took between the middles of both levels; a second break comes later than that.
    let again = (gap + n).min(look);
    let slack = |p: &Probe| is.stays_slack_share * p.stiffness * p.moved.abs();
    // From the same level before to a later one.
    let later = |look: usize| {
        (e + gap + look + n <= s.len())
            .then(|| probe(s, k, e, gap + look, n))
            .flatten()
    };
    let gone = later(look).is_some_and(|p| p.fall <= is.stays_share * fall - slack(&p));
    let goes_on = later(again).is_some_and(|p| p.fall >= (1.0 + is.stays_share) * fall + slack(&p));
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
    let sprung =
        earlier(look).is_some_and(|(_, _, p)| -p.fall >= is.stays_share * fall + slack(&p));
    let was_falling = earlier(again).is_some_and(|(b, span, p)| {
        let pace = (p.fall - slack(&p)).max(0.0)
            / (s.t((b + span + n / 2).min(e)) - s.t(b - n / 2)).max(s.trace.step_s);
        let trend = pace * (s.t(e + gap + n / 2) - s.t(e - n / 2));
        p.fall >= is.stays_share * fall + slack(&p) || fall - trend <= threshold
    });
    !sprung && !was_falling
}

/// Pressure left once the line has swung out, kPa; positive infinity where the recording ends before.
fn settled(s: &Samples<'_>, fallen: usize) -> f64 {
    let is = &s.settings.falls;
    let from = s.first_since(s.t(fallen) + is.settled_from_s);
    let to = s.first_since(s.t(fallen) + is.settled_to_s).max(from + 1);
    if to > s.len() {
        return f64::INFINITY;
    }
    median(&(from..to).map(|i| s.p(i)).collect::<Vec<_>>())
}

/// Standard uncertainty that a swing of the line after a fall leaves in the level after it, kPa: how far the samples of the time in which
/// a fall settles stand off each other beyond their noise; one of them is as good as another.
fn swing(s: &Samples<'_>, fallen: usize, noise_kpa: f64) -> f64 {
    let to = s
        .first_since(s.t(fallen) + s.settings.falls.settled_from_s)
        .clamp(fallen + 1, s.len());
    let (_, p) = s.points(fallen, to);
    let n = p.len() as f64;
    let mean = p.iter().sum::<f64>() / n;
    let variance = p.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / n;
    (variance - noise_kpa.powi(2)).max(0.0).sqrt()
}

/// Best time of the onset: where several samples lie on the fall, its first pace carried back to the level before; else the
/// middle of the step it lies in.
fn onset(s: &Samples<'_>, first: usize, fallen: usize) -> f64 {
    let middle = f64::midpoint(s.t(first - 1), s.t(first));
    let on_the_fall = fallen - first;
    if on_the_fall < s.settings.falls.pace_samples {
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
