//! Volumes of whole beats: forward stroke, closing and leakage (terms as in ISO 5840; the rule that parts the two reverse volumes is
//! this one's own).
//!
//! Forward flow lasts from one zero crossing of the flow to the next about each beat. All reverse flow from there to the next forward
//! flow is the regurgitant volume. Of it, the closing volume is what flows back until the reverse flow, past its peak, has come down to
//! the level of the leak (the median over the later half of that time); the rest is leakage. Flow is integrated with its sign, so
//! noise cancels.

use super::flow_period::{Samples, get, quantile, sample_noise};

/// A closing peak must stand above the leak by so many standard deviations of a flow sample: of a hundred samples after a beat, the noise of
/// hardly one record in a hundred does so.
const PEAK_SIGMAS: f64 = 4.0;
/// The leak is read over this last share of the reverse flow: closing takes far less than the first half of it.
const LEAK_SHARE: f64 = 0.5;
/// Fewest samples of reverse flow that can be parted.
const FEWEST_REVERSE: usize = 8;

/// A whole beat: forward flow, and what flows back until the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cycle {
    /// Forward flow begins, s.
    pub start_s: f64,
    /// Forward flow ends, s.
    pub end_s: f64,
    /// Forward flow of the next beat begins, s.
    pub next_s: f64,
    /// Forward stroke volume, mL.
    pub forward_ml: f64,
    /// Volume flowing back, mL; below 0 where the record goes on forwards.
    pub reverse_ml: f64,
    /// Part of it until the valve is closed, mL; `None` where no closing peak stands out of the leak.
    pub closing_ml: Option<f64>,
    /// Standard deviation of a volume by the noise of its samples for a second of integration, mL/√s.
    pub noise_ml: f64,
    /// Step between samples, s.
    pub step_s: f64,
}

/// Whole beats of a record, in order; none where no forward flow is followed by another.
pub(super) fn cycles(samples: &Samples) -> Vec<Cycle> {
    let Ok(beats) = samples.beats() else {
        return Vec::new();
    };
    let last = samples.t.len().saturating_sub(1);
    let floor = |k: usize| match k.checked_sub(1).and_then(|k| beats.get(k)) {
        Some((_, end)) => *end,
        None => 0,
    };
    let bounds: Vec<(Option<f64>, Option<f64>)> = beats
        .iter()
        .enumerate()
        .map(|(k, &(from, to))| {
            let ceiling = beats.get(k + 1).map_or(last, |(next, _)| *next);
            (
                samples.forward_begins(from, floor(k)),
                samples.forward_ends(to, ceiling),
            )
        })
        .collect();
    let noise = sample_noise(&samples.q);
    bounds
        .windows(2)
        .filter_map(|pair| match pair {
            [(Some(start), Some(end)), (Some(next), _)] => {
                samples.cycle(*start, *end, *next, noise)
            }
            _ => None,
        })
        .collect()
}

impl Samples {
    /// Zero crossing of the flow before sample `from` and after `limit`.
    fn forward_begins(&self, from: usize, limit: usize) -> Option<f64> {
        let i = (limit..from).rev().find(|&i| get(&self.q, i) <= 0.0)?;
        Some(self.zero_of_flow(i))
    }

    /// Zero crossing of the flow after sample `from` and before `limit`.
    fn forward_ends(&self, from: usize, limit: usize) -> Option<f64> {
        let i = (from.saturating_sub(1)..limit).find(|&i| get(&self.q, i + 1) <= 0.0)?;
        Some(self.zero_of_flow(i))
    }

    /// Zero of the straight line of flow between a sample and the next.
    fn zero_of_flow(&self, i: usize) -> f64 {
        let (t1, t2) = (get(&self.t, i), get(&self.t, i + 1));
        let (q1, q2) = (get(&self.q, i), get(&self.q, i + 1));
        let at = t1 + (t2 - t1) * q1 / (q1 - q2);
        if at.is_finite() { at.clamp(t1, t2) } else { t1 }
    }

    /// Integral of the flow between two times by the trapezium rule, the ends interpolated, mL.
    fn volume(&self, from: f64, to: f64) -> f64 {
        let first = self.t.partition_point(|t| *t <= from);
        let last = self.t.partition_point(|t| *t < to);
        let inside = (first..last).map(|i| (get(&self.t, i), get(&self.q, i)));
        let nodes: Vec<(f64, f64)> = std::iter::once((from, self.flow_at(from)))
            .chain(inside)
            .chain(std::iter::once((to, self.flow_at(to))))
            .collect();
        nodes
            .windows(2)
            .map(|pair| match pair {
                [(t1, q1), (t2, q2)] => (t2 - t1) * f64::midpoint(*q1, *q2),
                _ => 0.0,
            })
            .sum()
    }

    fn cycle(&self, start: f64, end: f64, next: f64, noise: f64) -> Option<Cycle> {
        if !(start < end && end < next) {
            return None;
        }
        let inside =
            self.t.partition_point(|t| *t < next) - self.t.partition_point(|t| *t <= start);
        let step_s = (next - start) / (inside.max(1) as f64);
        Some(Cycle {
            start_s: start,
            end_s: end,
            next_s: next,
            forward_ml: self.volume(start, end),
            reverse_ml: -self.volume(end, next),
            closing_ml: self
                .closed(end, next, noise)
                .map(|closed| -self.volume(end, closed)),
            noise_ml: noise * step_s.sqrt(),
            step_s,
        })
    }

    /// Time at which the reverse flow between two times, past its peak, is down to the leak.
    fn closed(&self, end: f64, next: f64, noise: f64) -> Option<f64> {
        let first = self.t.partition_point(|t| *t <= end);
        let last = self.t.partition_point(|t| *t < next);
        if last < first + FEWEST_REVERSE {
            return None;
        }
        let later = end + (1.0 - LEAK_SHARE) * (next - end);
        let half = self.t.partition_point(|t| *t < later);
        let back = |i: usize| -get(&self.q, i);
        let leak = quantile((half..last).map(back), 0.5);
        let peak = (first..half).max_by(|&a, &b| back(a).total_cmp(&back(b)))?;
        let limit = leak.max(0.0) + PEAK_SIGMAS * noise;
        // A peak of rounding alone is none, however small the noise.
        if back(peak) <= limit || back(peak) <= leak * (1.0 + 1e-9) {
            return None;
        }
        // Noise carries a sample below the leak early: half of them lie below it once it is reached, so one standard deviation
        // above counts.
        let reached = leak + noise;
        let i = (peak + 1..last).find(|&i| back(i) <= reached)?;
        let (b1, b2) = (back(i - 1), back(i));
        let (t1, t2) = (get(&self.t, i - 1), get(&self.t, i));
        let at = t1 + (t2 - t1) * (b1 - reached) / (b1 - b2);
        Some(if at.is_finite() { at.clamp(t1, t2) } else { t2 })
    }
}
