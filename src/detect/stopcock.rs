//! A stopcock shut and opened again in the middle of a run: the transducer loses the balloon and finds it again, nothing broke.

use super::falls::Fall;
use super::levels::{Samples, probe};
use super::stiffness::Stiffness;

/// The step back is looked for so many times in the length of a level: it is no longer than a snap, and is not looked for again.
const LOOKS_IN_LEVEL: usize = 16;

/// Takes the first edges of a shut stopcock out of the falls; gives the other falls and the stretches in which it was shut (samples of
/// the trace).
pub(super) fn take_out(
    s: &Samples<'_>,
    k: &Stiffness,
    falls: Vec<Fall>,
    n: usize,
) -> (Vec<Fall>, Vec<(usize, usize)>) {
    // The second edge belongs to the last fall before it, so each fall is looked at up to the next.
    let ends: Vec<f64> = falls
        .iter()
        .skip(1)
        .map(|next| next.t_lo_s)
        .chain([f64::INFINITY])
        .collect();
    let mut left = Vec::new();
    let mut shut = Vec::new();
    for (fall, next_s) in falls.into_iter().zip(ends) {
        match comes_back(s, k, &fall, next_s, n) {
            Some(j) => shut.push((fall.first, s.index(j))),
            None => left.push(fall),
        }
    }
    (left, shut)
}

/// First sample after the second edge, where the pressure later steps back up as fast as it fell and no volume went in. The step
/// begins where the fall ended and ends near the old level; where the fall left nothing, a step to a good part of it is enough (the
/// balloon may have leaked or relaxed meanwhile), since an emptied balloon has no pressure to step up to.
fn comes_back(s: &Samples<'_>, k: &Stiffness, fall: &Fall, next_s: f64, n: usize) -> Option<usize> {
    let (is, falls) = (&s.settings.stopcock, &s.settings.falls);
    let noise = is.noise_sigmas * s.trace.noise_kpa;
    let left = (fall.pressure_kpa - fall.drop_kpa).max(0.0);
    let emptied = left < (falls.loaded_share * fall.pressure_kpa).max(noise);
    // Without volume a stroke cannot be told from a step back, unless the fall left next to nothing.
    if !s.has_volume() && !emptied {
        return None;
    }
    let snap = s.snap_steps();
    let from = s.first_from(fall.after) + 1;
    let until = s
        .first_since((fall.t_hi_s + is.shut_longest_s).min(next_s))
        .min(s.len().saturating_sub(snap + n));
    let level = noise + is.step_back_level_share * fall.pressure_kpa;
    let share = if emptied {
        is.step_from_nothing_share
    } else {
        is.step_back_share
    };
    // The pressure itself must rise: volume that comes out of an emptied balloon and lowers nothing is no step. What was moved in a gap
    // explains no step from nothing to a good part of the old pressure.
    let back = |j: usize| {
        let missing =
            emptied && s.t(j + snap) - s.t(j) > (snap as f64 + falls.gap_steps) * s.trace.step_s;
        probe(s, k, j, snap, n).map_or(0.0, |p| {
            if missing {
                -p.plain
            } else {
                (-p.fall).min(-p.plain)
            }
        })
    };
    let rises = |j: usize| s.mean_p(j + snap, j + snap + n) - s.mean_p(j + 1 - n, j + 1);
    let first = (from + n..until)
        .step_by((n / LOOKS_IN_LEVEL).max(1))
        .find(|&j| {
            rises(j) > share * fall.drop_kpa
                && back(j) > share * fall.drop_kpa
                && (s.mean_p(j + 1 - n, j + 1) - left).abs() < level
                && (emptied || (s.mean_p(j + snap, j + snap + n) - fall.pressure_kpa).abs() < level)
        })?;
    // Levels reach a little past the step before it is there: it is where the difference is largest.
    (first..(first + n).min(until))
        .max_by(|a, b| back(*a).total_cmp(&back(*b)))
        .map(|j| j + snap)
}
