//! Two channels on one even grid, only to find the offset between their clocks; nothing else ever sees these values.

use super::{GAP_STEPS, Signal};
use crate::calibrate::median;

/// Both are smoothed over this time, s: strokes and edges of a bench take tenths of a second, noise is faster.
const SMOOTH_S: f64 = 0.1;
/// ... and over so many steps at least: an interpolated step of bare noise would pull the offset to whole or half steps.
const SMOOTH_STEPS: usize = 3;
/// More steps than this say no more about an offset.
const MOST_STEPS: f64 = 262_144.0;

/// Usual step of a channel, s: the median of the steps between its finite samples.
pub(super) fn usual_step(signal: Signal<'_>) -> f64 {
    let times: Vec<f64> = finite(signal).map(|(t, _)| t).collect();
    median(&times.windows(2).map(|w| w[1] - w[0]).collect::<Vec<_>>())
}

fn finite(signal: Signal<'_>) -> impl Iterator<Item = (f64, f64)> {
    let both = signal
        .time_s
        .iter()
        .copied()
        .zip(signal.values.iter().copied());
    both.filter(|(t, v)| t.is_finite() && v.is_finite())
}

/// Step of the common grid, s: that of the coarser channel.
pub(super) fn common_step(main: Signal<'_>, own: Signal<'_>) -> f64 {
    let last = |s: Signal<'_>| s.time_s.last().copied().unwrap_or(0.0);
    let longest = last(main).max(last(own));
    usual_step(main)
        .max(usual_step(own))
        .max(longest / MOST_STEPS)
}

/// Half of the smoothing, grid steps: boxes of `2 h + 1` steps, twice.
pub(super) fn half_width(step_s: f64) -> usize {
    ((SMOOTH_S / step_s / 2.0).round() as usize).max(SMOOTH_STEPS / 2)
}

/// A channel on the grid `k step`, smoothed: the mean of the straight lines between its samples over each step, then two boxes. NaN at
/// gaps and as near to them as the smoothing reaches.
pub(super) fn on_grid(signal: Signal<'_>, step_s: f64) -> Vec<f64> {
    let (time, values): (Vec<f64>, Vec<f64>) = finite(signal).unzip();
    let longest_step = GAP_STEPS * usual_step(signal).max(step_s);
    let Some(&last) = time.last() else {
        return Vec::new();
    };
    // The integral of the straight lines from the first sample on; the mean over a step is a difference of two.
    let mut sum = Vec::with_capacity(time.len());
    let mut so_far = 0.0;
    for k in 0..time.len() {
        if k > 0 {
            so_far += f64::midpoint(values[k], values[k - 1]) * (time[k] - time[k - 1]);
        }
        sum.push(so_far);
    }
    let mut above = 0;
    let count = (last / step_s).floor().max(0.0) as usize + 1;
    let edges: Vec<Option<(usize, f64)>> = (0..=count)
        .map(|k| {
            let at = (k as f64 - 0.5) * step_s;
            while above < time.len() && time[above] <= at {
                above += 1;
            }
            if above == 0 || above == time.len() {
                return None;
            }
            let length = time[above] - time[above - 1];
            let into = at - time[above - 1];
            let slope = (values[above] - values[above - 1]) / length;
            let integral = sum[above - 1] + into * (values[above - 1] + slope * into / 2.0);
            Some((above, integral))
        })
        .collect();
    let mut means: Vec<f64> = edges
        .windows(2)
        .map(|pair| match (pair[0], pair[1]) {
            (Some((from, a)), Some((to, b)))
                if (from..=to).all(|k| time[k] - time[k - 1] <= longest_step) =>
            {
                (b - a) / step_s
            }
            _ => f64::NAN,
        })
        .collect();
    let half = half_width(step_s);
    for _ in 0..2 {
        means = boxed(&means, half);
    }
    means
}

/// Mean over `2 half + 1` neighbours; NaN where one of them is.
fn boxed(values: &[f64], half: usize) -> Vec<f64> {
    let mut sum = vec![(0.0, 0_usize)];
    let (mut total, mut missing) = (0.0, 0);
    for value in values {
        if value.is_finite() {
            total += value;
        } else {
            missing += 1;
        }
        sum.push((total, missing));
    }
    (0..values.len())
        .map(|k| {
            let (Some(from), to) = (k.checked_sub(half), k + half + 1) else {
                return f64::NAN;
            };
            match (sum.get(from), sum.get(to)) {
                (Some(a), Some(b)) if a.1 == b.1 => (b.0 - a.0) / (2 * half + 1) as f64,
                _ => f64::NAN,
            }
        })
        .collect()
}
