//! Where a fall begins and ends: sample by sample against what the pressure would have been without it.

use super::falls::{LEVEL_S, Whole};
use super::levels::Samples;
use super::onset::{Beginning, onset};
use super::stiffness::Stiffness;
use crate::fit::straight_line;

/// Share of the fall from which a sample belongs to it (or so many standard deviations, if that is more).
const FIRST_SHARE: f64 = 0.06;
const FIRST_SIGMAS: f64 = 3.0;
/// A sample has fallen whole when no more than this share is missing (or so many standard deviations, if that is more).
const WHOLE_SHARE: f64 = 0.08;
const WHOLE_SIGMAS: f64 = 2.0;
/// ... but in much noise neither is more than half of the fall.
const HALF: f64 = 0.5;
/// A sample within so many standard deviations of the level before may still be before the onset.
const NOISE_SIGMAS: f64 = 1.5;
/// A sample that has lost this share of the fall lies in it and spoils the level before.
const IN_FALL_SHARE: f64 = 0.2;
/// A slow fall is told from this share of it to what is left of it: the usual 10 to 90 %.
const SLOW_ENDS_SHARE: f64 = 0.1;
/// A sample is certainly before a slow fall if it has lost no more than this share of it.
const SLOW_FIRST_SHARE: f64 = 0.02;
/// Fewest samples of a level that tell how fast the pressure rises, where no volume does.
const PACE_SAMPLES: usize = 5;

/// Where a fall begins and ends, against a level before it.
pub(super) struct Edge {
    /// Last sample certainly before.
    pub before: usize,
    /// First sample certainly fallen.
    pub first: usize,
    /// First sample that has fallen nearly whole.
    pub fallen: usize,
    /// Spread of single samples around the level before, kPa.
    pub single: f64,
}

/// What the pressure would have been, from the samples `from..=to`: their level, carried on with the moved volume or, where no volume
/// tells, at the pace it rose at.
struct Expected<'s, 'a> {
    s: &'s Samples<'a>,
    level: f64,
    stiffness: f64,
    pace: f64,
    middle_s: f64,
}

impl<'s, 'a> Expected<'s, 'a> {
    fn new(s: &'s Samples<'a>, stiffness: f64, from: usize, to: usize) -> Self {
        let pace = if !s.has_volume() && to + 1 - from >= PACE_SAMPLES && !s.clipped(to) {
            let (t, p) = s.points(from, to + 1);
            straight_line(&t, &p, None).map_or(0.0, |line| line.slope)
        } else {
            0.0
        };
        Self {
            s,
            level: s.mean_p(from, to + 1) - stiffness * s.mean_v(from, to + 1),
            stiffness,
            pace,
            middle_s: (from..=to).map(|i| s.t(i)).sum::<f64>() / (to + 1 - from) as f64,
        }
    }

    /// Pressure lost at sample `j`, kPa.
    fn lost(&self, j: usize) -> f64 {
        self.level + self.stiffness * self.s.v(j) + self.pace * (self.s.t(j) - self.middle_s)
            - self.s.p(j)
    }

    /// Spread of the single samples `from..=to` around it, kPa; not less than the noise of the recording.
    fn spread(&self, from: usize, to: usize) -> f64 {
        let n = (to + 1 - from) as f64;
        ((from..=to).map(|j| self.lost(j).powi(2)).sum::<f64>() / n)
            .sqrt()
            .max(self.s.trace.noise_kpa)
    }
}

/// Places the edge of a fall of size `fall` between `e` and `e + gap`, against the level of the `n` samples up to `e`.
pub(super) fn edge(
    s: &Samples<'_>,
    k: &Stiffness,
    e: usize,
    gap: usize,
    n: usize,
    fall: f64,
) -> Option<Edge> {
    let end = (e + gap + n).min(s.len());
    let e = not_yet_falling(s, k, e, n, fall);
    let from = (e + 1).checked_sub(n)?;
    let past = if s.clipped(e) { 0.0 } else { k.past(e) };
    let expected = Expected::new(s, past, from, e);
    let lost = |j: usize| expected.lost(j);
    let single = expected.spread(from, e);
    let nearly = fall
        - (WHOLE_SIGMAS * single)
            .max(WHOLE_SHARE * fall)
            .min(HALF * fall);
    let mut fallen = (e..end).find(|&j| lost(j) >= nearly)?;
    let told = (FIRST_SIGMAS * single)
        .max(FIRST_SHARE * fall)
        .min(HALF * fall);
    let mut first = fallen;
    while first > from + 1 && lost(first - 1) > told {
        first -= 1;
    }
    // It is not over while the next sample still falls.
    while fallen + 1 < end && lost(fallen + 1) - lost(fallen) > told {
        fallen += 1;
    }
    // What is less than told may be noise: the onset may lie earlier, by as much as the fall needs to leave the noise at its first
    // pace.
    let mut before = first.checked_sub(1)?;
    while before > from
        && lost(before) > NOISE_SIGMAS * single
        && s.t(first) - s.t(before) < LEVEL_S
    {
        before -= 1;
    }
    let pace = (lost(first) - lost(before)) / (s.t(first) - s.t(before));
    let earliest = s.t(before) - NOISE_SIGMAS * single / pace.max(f64::MIN_POSITIVE);
    while before > from
        && s.t(before) > earliest + s.trace.step_s
        && s.t(first) - s.t(before) < LEVEL_S
    {
        before -= 1;
    }
    Some(Edge {
        before,
        first,
        fallen,
        single,
    })
}

/// Best, earliest and latest time of the onset of a fall of size `fall` with this edge, against the level of the `n` samples up to it.
pub(super) fn onset_of(
    s: &Samples<'_>,
    k: &Stiffness,
    edge: &Edge,
    n: usize,
    fall: f64,
) -> Option<(f64, f64, f64)> {
    let last = edge.first.checked_sub(1)?;
    let from = (last + 1).checked_sub(n)?;
    let expected = Expected::new(s, k.past(last), from, last);
    let lost: Vec<(f64, f64)> = (from..=edge.fallen)
        .map(|j| (s.t(j), expected.lost(j)))
        .collect();
    onset(&Beginning {
        lost: &lost,
        first: edge.first - from,
        sigma: edge.single,
        fall,
    })
}

/// The last sample before the fall where `e` may already lie in it, as a single sample of a slow clock does: it is left out while it
/// stands off from the level of those before.
pub(super) fn not_yet_falling(
    s: &Samples<'_>,
    k: &Stiffness,
    e: usize,
    n: usize,
    fall: f64,
) -> usize {
    let mut last = e;
    for _ in 0..s.snap_steps() {
        if last < n || s.clipped(last) || s.clipped(last - 1) {
            break;
        }
        let (from, to) = (last - n, last - 1);
        let expected = Expected::new(s, k.past(to), from, to);
        let told = (FIRST_SIGMAS * expected.spread(from, to)).max(IN_FALL_SHARE * fall);
        if expected.lost(last) <= told.min(HALF * fall) {
            break;
        }
        last -= 1;
    }
    last
}

/// Edge of a slow fall: from a tenth to nine tenths of it, against a level well before.
pub(super) fn slow_edge(s: &Samples<'_>, k: &Stiffness, whole: &Whole, n: usize) -> Option<Edge> {
    let from = (whole.start + 1).checked_sub(n)?;
    let expected = Expected::new(s, k.past(whole.start), from, whole.start);
    let lost = |j: usize| expected.lost(j);
    let single = expected.spread(from, whole.start);
    let end = (whole.start + whole.gap + n).min(s.len());
    let fallen = (whole.start..end).find(|&j| lost(j) > (1.0 - SLOW_ENDS_SHARE) * whole.fall)?;
    let first = (whole.start..=fallen)
        .rev()
        .take_while(|&j| lost(j) > SLOW_ENDS_SHARE * whole.fall)
        .last()?;
    let before = (from..first)
        .rev()
        .find(|&j| lost(j) < single.max(SLOW_FIRST_SHARE * whole.fall))?;
    Some(Edge {
        before,
        first,
        fallen,
        single,
    })
}
