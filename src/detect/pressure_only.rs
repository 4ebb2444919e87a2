//! Falls told from the pressure alone, where a recording has no volume channel.
//!
//! Without volume a stroke cannot be taken out of the pressure, and a withdrawal looks like a fall. What is left is shape: a snap
//! drops faster than any hand, a slip comes while the pressure rises, an operator lets go from a rest.

use super::falls::Whole;
use super::levels::Samples;
use crate::fit::straight_line;

/// Samples in a snap and in a block.
fn lengths(s: &Samples<'_>) -> (usize, usize) {
    let snap = s.snap_steps();
    let block = ((s.settings.falls.block_s / s.trace.step_s).round() as usize).max(1);
    (snap, block)
}

/// Largest change (fall positive) within a snap's time over blocks, among starts in a range, and where it starts.
fn fastest(s: &Samples<'_>, from: usize, to: usize, sign: f64) -> (f64, usize) {
    let (snap, block) = lengths(s);
    (from..to)
        .filter(|j| j + 1 >= block && j + snap + block <= s.len())
        .map(|j| {
            (
                sign * (s.mean_p(j + 1 - block, j + 1) - s.mean_p(j + snap, j + snap + block)),
                j,
            )
        })
        .fold(
            (0.0, from),
            |best, now| if now.0 > best.0 { now } else { best },
        )
}

/// The whole of a fall between `e` and `e + gap`: from the highest block to the lowest after it.
pub(super) fn whole(
    s: &Samples<'_>,
    e: usize,
    gap: usize,
    longest: usize,
    n: usize,
) -> Option<Whole> {
    let (snap, block) = lengths(s);
    let start = (e + gap / 2).saturating_sub(longest / 2).max(n.max(block));
    let end = (start + longest + block).min(s.len().checked_sub(block)?);
    if end <= start + snap {
        return None;
    }
    let (drop, at) = fastest(s, start, end, 1.0);
    // The top is the block just before the fastest part that stands highest, the bottom the lowest after it.
    let level = |j: usize| s.mean_p(j + 1 - block, j + 1);
    let (top_at, top) =
        (start..=at)
            .map(|j| (j, level(j)))
            .fold((at, f64::NEG_INFINITY), |best, now| {
                if now.1 > best.1 { now } else { best }
            });
    let bottom = (at + snap..end).map(level).fold(f64::INFINITY, f64::min);
    let fall = top - bottom;
    (fall > 0.0).then(|| Whole {
        start: top_at,
        gap: start + longest - top_at,
        fall,
        fastest_share: drop / fall,
        most_share: drop / fall,
    })
}

/// True for a fall that is not half of a knock and, if slow, has the shape of a slip and not of a hand.
pub(super) fn stands(s: &Samples<'_>, whole: &Whole, slow: bool) -> bool {
    let (is, falls) = (&s.settings.pressure_only, &s.settings.falls);
    let look = ((is.look_s / s.trace.step_s).round() as usize).max(2);
    let (snap, block) = lengths(s);
    let (_, at) = fastest(s, whole.start, whole.start + whole.gap, 1.0);
    let after = fastest(s, at + snap, (at + snap + look).min(s.len()), -1.0).0;
    let before = fastest(
        s,
        at.saturating_sub(look),
        at.saturating_sub(snap.saturating_sub(1)),
        -1.0,
    )
    .0;
    // A slow clock cannot tell a knock from a stroke: a rise of one step there is nothing unusual.
    let fast_clock = s.trace.step_s <= falls.snap_s;
    if fast_clock
        && (after > is.taken_back_share * whole.fall || before > is.sprung_share * whole.fall)
    {
        return false;
    }
    if !slow {
        return true;
    }
    // What goes on falling at the same pace is a hand or a hole: half a second later no more than half as much again is lost.
    let end = whole.start + whole.gap;
    let later = ((is.later_s / s.trace.step_s).round() as usize).max(2);
    if end + later + block <= s.len() {
        let bottom = s.mean_p(end, end + block);
        if bottom - s.mean_p(end + later, end + later + block) > is.later_share * whole.fall {
            return false;
        }
    }
    let half_second = ((is.rising_s / s.trace.step_s).round() as usize).max(2);
    let Some(earlier) = at.checked_sub(half_second + block) else {
        return false;
    };
    let top = (earlier + block..=at)
        .map(|j| s.mean_p(j + 1 - block, j + 1))
        .fold(f64::NEG_INFINITY, f64::max);
    let rise = top - s.mean_p(earlier, earlier + block);
    let noise = is.rising_sigmas * s.trace.noise_kpa / (block as f64).sqrt();
    (fast_clock && whole.fastest_share - noise / whole.fall > is.slip_alone_share)
        || (whole.fastest_share > falls.slip_fastest_share
            && rise > (is.rising_share * whole.fall).max(noise))
}

/// Pressure at a time from a straight line through samples near it, with its standard uncertainty (kPa) and slope (kPa/s): a
/// stroke goes on rising up to a break. Beyond the samples the line is followed for one step of the clock only: what the hand did in a
/// gap nobody knows.
pub(super) fn level_at(s: &Samples<'_>, from: usize, to: usize, t_s: f64) -> (f64, f64, f64) {
    let mean = s.mean_p(from, to);
    let (t, p) = s.points(from, to);
    let (first, last) = (t[0], t[t.len() - 1]);
    let t_s = t_s.clamp(first - s.trace.step_s, last + s.trace.step_s);
    match straight_line(&t, &p, None) {
        Ok(line) if t.len() > 2 => (line.at(t_s), line.u_at(t_s), line.slope.abs()),
        // Half a step beyond two samples the line is uncertain by (1.5² + 0.5²)^½ of their noise.
        Ok(line) => (line.at(t_s), 1.6 * s.trace.noise_kpa, line.slope.abs()),
        Err(_) => (mean, s.trace.noise_kpa, 0.0),
    }
}
