//! Samples with a pressure, their running sums, and levels before and after a place, corrected for moved volume.

use super::stiffness::Stiffness;
use crate::balloon::LineModel;
use crate::recording::Trace;
use crate::segment::{Motion, State};

/// A snap loses nearly all of its pressure within this time, s: three time constants of a line that transmits it (8 ms).
pub(super) const SNAP_S: f64 = 0.025;
/// Slips take longer than this, s: friction lets a balloon go over a tenth of a second and more.
const SLIP_SHORTEST_S: f64 = 0.1;

/// Samples of a trace that have a pressure.
pub(super) struct Samples<'a> {
    pub trace: &'a Trace,
    pub motion: &'a Motion,
    pub line: Option<&'a LineModel>,
    /// Index into the trace.
    pub at: Vec<usize>,
    /// Time, s.
    pub t: Vec<f64>,
    /// Pressure, kPa.
    pub p: Vec<f64>,
    /// Injected volume, mL, missing cells carried on.
    pub volume: Option<Vec<f64>>,
    sum_p: Vec<f64>,
    sum_v: Vec<f64>,
    sum_clipped: Vec<u32>,
}

impl<'a> Samples<'a> {
    pub fn of(trace: &'a Trace, motion: &'a Motion, line: Option<&'a LineModel>) -> Self {
        let at: Vec<usize> = (0..trace.len())
            .filter(|&i| trace.pressure_kpa[i].is_finite())
            .collect();
        let t = at.iter().map(|&i| trace.time_s[i]).collect();
        let p: Vec<f64> = at.iter().map(|&i| trace.pressure_kpa[i]).collect();
        let volume = trace.volume_ml.as_ref().map(|all| {
            let mut last = all.iter().copied().find(|v| v.is_finite()).unwrap_or(0.0);
            let carried: Vec<f64> = all
                .iter()
                .map(|v| {
                    if v.is_finite() {
                        last = *v;
                    }
                    last
                })
                .collect();
            at.iter().map(|&i| carried[i]).collect::<Vec<f64>>()
        });
        let running = |values: &[f64]| {
            let mut sums = Vec::with_capacity(values.len() + 1);
            sums.push(0.0);
            for v in values {
                sums.push(sums[sums.len() - 1] + v);
            }
            sums
        };
        let sum_p = running(&p);
        let sum_v = volume.as_deref().map_or_else(Vec::new, running);
        let mut sum_clipped = vec![0];
        for &i in &at {
            sum_clipped.push(sum_clipped[sum_clipped.len() - 1] + u32::from(trace.clipped[i]));
        }
        Self {
            trace,
            motion,
            line,
            at,
            t,
            p,
            volume,
            sum_p,
            sum_v,
            sum_clipped,
        }
    }

    pub fn len(&self) -> usize {
        self.at.len()
    }

    /// Steps of the clock in which a snap loses nearly all of its pressure. On a slow clock one sample may lie in the fall, so that
    /// it takes two steps; these are allowed as long as they are shorter than a slip.
    pub fn snap_steps(&self) -> usize {
        let step = self.trace.step_s;
        let least = if 2.0 * step <= SLIP_SHORTEST_S { 2 } else { 1 };
        ((SNAP_S / step).ceil() as usize).max(least)
    }

    pub fn clipped(&self, i: usize) -> bool {
        self.trace.clipped[self.at[i]]
    }

    pub fn any_clipped(&self, from: usize, to: usize) -> bool {
        self.sum_clipped[to] > self.sum_clipped[from]
    }

    pub fn state(&self, i: usize) -> State {
        self.motion.state[self.at[i]]
    }

    /// A stiffness not larger than that of the line alone (a rigid balloon), kPa/mL.
    pub fn bounded(&self, i: usize, stiffness: f64) -> f64 {
        self.stiffest(i)
            .map_or(stiffness, |most| stiffness.min(most))
    }

    /// Stiffness of the line alone at the pressure of a sample, if the line is known.
    pub fn stiffest(&self, i: usize) -> Option<f64> {
        // A tenth more allows for the uncertainty of the line.
        self.line
            .map(|line| 1.1 / line.capacity_ml_per_kpa(self.p[i]).max(1e-9))
    }

    pub fn mean_p(&self, from: usize, to: usize) -> f64 {
        (self.sum_p[to] - self.sum_p[from]) / (to - from) as f64
    }

    /// Mean volume of a stretch, 0 without a volume channel.
    pub fn mean_v(&self, from: usize, to: usize) -> f64 {
        if self.sum_v.is_empty() {
            0.0
        } else {
            (self.sum_v[to] - self.sum_v[from]) / (to - from) as f64
        }
    }

    pub fn v(&self, i: usize) -> f64 {
        self.volume.as_ref().map_or(0.0, |v| v[i])
    }
}

/// A fall looked for between sample `e` and sample `e + gap`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Probe {
    /// Fall not explained by volume, kPa.
    pub fall: f64,
    /// Fall of the plain means, kPa.
    pub plain: f64,
    /// Volume gone in between the middles of both windows, mL.
    pub moved: f64,
    /// Stiffness used, kPa/mL.
    pub stiffness: f64,
}

/// Level before `e` (inclusive) less level after `e + gap`, over `n` samples each.
pub(super) fn probe(
    s: &Samples<'_>,
    k: &Stiffness,
    e: usize,
    gap: usize,
    n: usize,
) -> Option<Probe> {
    let (from, first_after) = ((e + 1).checked_sub(n)?, e + gap);
    if first_after + n > s.len() {
        return None;
    }
    let clipped = s.any_clipped(from, e + 1);
    let (before, after) = (
        s.mean_p(from, e + 1),
        s.mean_p(first_after, first_after + n),
    );
    let (v_before, v_after) = (
        s.mean_v(from, e + 1),
        s.mean_v(first_after, first_after + n),
    );
    // At the limit of the channel the pressure does not follow the volume, so nothing is corrected.
    let (past, future) = if clipped {
        (0.0, k.future[first_after])
    } else {
        (k.past[e], k.future[first_after])
    };
    let between = if clipped {
        0.0
    } else {
        f64::midpoint(past, future)
    };
    let level_before = before + past * (s.v(e) - v_before);
    let level_after = after - future * (v_after - s.v(first_after));
    Some(Probe {
        fall: level_before - level_after + between * (s.v(first_after) - s.v(e)),
        plain: before - after,
        moved: v_after - v_before,
        stiffness: past.max(future),
    })
}
