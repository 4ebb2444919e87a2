//! Where a fall begins and ends: sample by sample against what the pressure would have been without it.

use super::falls::Whole;
use super::levels::Samples;
use super::onset::{Beginning, onset};
use super::stiffness::Stiffness;
use crate::fit::straight_line;

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
        let pace =
            if !s.has_volume() && to + 1 - from >= s.settings.edge.pace_samples && !s.clipped(to) {
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
    let (is, level_s) = (&s.settings.edge, s.settings.falls.level_s);
    let end = (e + gap + n).min(s.len());
    let e = not_yet_falling(s, k, e, n, fall);
    let from = (e + 1).checked_sub(n)?;
    let past = if s.clipped(e) { 0.0 } else { k.past(e) };
    let expected = Expected::new(s, past, from, e);
    let lost = |j: usize| expected.lost(j);
    let single = expected.spread(from, e);
    let nearly = fall
        - (is.whole_sigmas * single)
            .max(is.whole_share * fall)
            .min(is.most_share * fall);
    let mut fallen = (e..end).find(|&j| lost(j) >= nearly)?;
    let told = (is.first_sigmas * single)
        .max(is.first_share * fall)
        .min(is.most_share * fall);
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
        && lost(before) > is.noise_sigmas * single
        && s.t(first) - s.t(before) < level_s
    {
        before -= 1;
    }
    let pace = (lost(first) - lost(before)) / (s.t(first) - s.t(before));
    let earliest = s.t(before) - is.noise_sigmas * single / pace.max(f64::MIN_POSITIVE);
    while before > from
        && s.t(before) > earliest + s.trace.step_s
        && s.t(first) - s.t(before) < level_s
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
        snap_s: s.settings.falls.snap_s,
        settings: &s.settings.onset,
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
    let is = &s.settings.edge;
    let mut last = e;
    for _ in 0..s.snap_steps() {
        if last < n || s.clipped(last) || s.clipped(last - 1) {
            break;
        }
        let (from, to) = (last - n, last - 1);
        let expected = Expected::new(s, k.past(to), from, to);
        let told = (is.first_sigmas * expected.spread(from, to)).max(is.in_fall_share * fall);
        if expected.lost(last) <= told.min(is.most_share * fall) {
            break;
        }
        last -= 1;
    }
    last
}

/// Edge of a slow fall: from a tenth to nine tenths of it, against a level well before.
pub(super) fn slow_edge(s: &Samples<'_>, k: &Stiffness, whole: &Whole, n: usize) -> Option<Edge> {
    let is = &s.settings.edge;
    let from = (whole.start + 1).checked_sub(n)?;
    let expected = Expected::new(s, k.past(whole.start), from, whole.start);
    let lost = |j: usize| expected.lost(j);
    let single = expected.spread(from, whole.start);
    let end = (whole.start + whole.gap + n).min(s.len());
    let fallen = (whole.start..end).find(|&j| lost(j) > (1.0 - is.slow_ends_share) * whole.fall)?;
    let first = (whole.start..=fallen)
        .rev()
        .take_while(|&j| lost(j) > is.slow_ends_share * whole.fall)
        .last()?;
    let before = (from..first)
        .rev()
        .find(|&j| lost(j) < single.max(is.slow_first_share * whole.fall))?;
    Some(Edge {
        before,
        first,
        fallen,
        single,
    })
}
