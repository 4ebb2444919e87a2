//! Samples with a pressure, their running sums, and levels before and after a place, corrected for moved volume.

use super::ranges::Ranges;
use super::stiffness::Stiffness;
use crate::balloon::LineModel;
use crate::recording::{Numbering, Trace};
use crate::rig::Settings;
use crate::segment::{BlockSums, Carried, Motion, Pair, State, less, plus, shift_for};

/// Block sums have so many blocks in the shortest level, so that little is added up again for each of them.
const BLOCKS_IN_LEVEL: usize = 200;
/// What changes slowly is known so many times in the length of a level or more often: every 2 to 4 ms of a fast clock, an eighth of the
/// shortest fall looked for.
const SLOW_LOOKS_IN_LEVEL: usize = 25;

/// Samples of a trace that have a pressure, counted anew without the others. Columns of the trace are looked at where they are: beside
/// them only sums of blocks are held.
pub(super) struct Samples<'a> {
    pub trace: &'a Trace,
    time_s: &'a [f64],
    pressure_kpa: &'a [f64],
    pub motion: &'a Motion,
    pub line: Option<&'a LineModel>,
    pub settings: &'a Settings,
    /// Index of each into the trace.
    at: Numbering,
    /// True where every sample of the trace has a pressure.
    complete: bool,
    /// Injected volume, missing cells carried on.
    volume: Option<Carried<'a>>,
    /// Of pressure and volume.
    sums: BlockSums,
    /// Samples at the limit of the channel.
    clipped: Ranges,
    /// What changes slowly is known for blocks of 2^slow samples.
    slow: u32,
}

impl<'a> Samples<'a> {
    /// Samples of a trace in which levels are taken over `level` samples and more.
    pub fn of(
        trace: &'a Trace,
        motion: &'a Motion,
        line: Option<&'a LineModel>,
        settings: &'a Settings,
        level: usize,
    ) -> Self {
        let p = &trace.pressure_kpa[..];
        let at = with_pressure(p);
        let complete = at.len() == p.len();
        let index = |i: usize| if complete { i } else { at.at(i) as usize };
        let shift = shift_for(at.len(), level, BLOCKS_IN_LEVEL);
        let slow = shift_for(at.len(), level, SLOW_LOOKS_IN_LEVEL);
        let volume = trace.volume_ml.as_ref().map(|v| Carried::of(v, shift));
        // Nearly every block lies in one piece in the trace.
        let in_one_piece = |from: usize, to: usize| {
            let first = index(from);
            (index(to - 1) - first == to - 1 - from).then_some((first, first + to - from))
        };
        let value = |i: usize| [p[i], volume.as_ref().map_or(0.0, |v| v.at(i))];
        let piece = |from: usize, to: usize| {
            let v = volume.as_ref().map_or(0.0, |v| v.sum(from, to));
            [p[from..to].iter().sum(), v]
        };
        let sums = if shift == 0 {
            let mut sums = BlockSums::in_ones(at.len());
            let stretches = at.stretches().map(|s| s.start as usize..s.end as usize);
            stretches.for_each(|stretch| match volume.as_ref().map(Carried::complete) {
                Some(Some(v)) => {
                    let values = p[stretch.clone()].iter().zip(&v[stretch]);
                    sums.extend(values.map(|(p, v)| [*p, *v]));
                }
                _ => sums.extend(stretch.map(value)),
            });
            sums
        } else {
            BlockSums::of(at.len(), shift, |from, to| match in_one_piece(from, to) {
                Some((from, to)) => piece(from, to),
                None => (from..to).fold([0.0; 2], |sum, i| plus(sum, value(index(i)))),
            })
        };
        let clipped = if trace.any_clipped() {
            Ranges::of(at.len(), |i| trace.clipped[index(i)])
        } else {
            Ranges::default()
        };
        Self {
            trace,
            time_s: &trace.time_s,
            pressure_kpa: p,
            motion,
            line,
            settings,
            at,
            complete,
            volume,
            sums,
            clipped,
            slow,
        }
    }

    pub fn len(&self) -> usize {
        self.at.len()
    }

    /// Index of a sample into the trace.
    #[inline]
    pub fn index(&self, i: usize) -> usize {
        if self.complete {
            i
        } else {
            self.at.at(i) as usize
        }
    }

    /// The first sample at or behind a place of the trace.
    pub fn first_from(&self, index: usize) -> usize {
        self.at.rank(index as u64)
    }

    /// The first sample at or behind a time.
    pub fn first_since(&self, t_s: f64) -> usize {
        self.first_from(self.trace.time_s.partition_point(|t| *t < t_s))
    }

    /// Time, s.
    #[inline]
    pub fn t(&self, i: usize) -> f64 {
        self.time_s[self.index(i)]
    }

    /// Pressure, kPa.
    #[inline]
    pub fn p(&self, i: usize) -> f64 {
        self.pressure_kpa[self.index(i)]
    }

    /// Injected volume, mL; 0 without a volume channel.
    #[inline]
    pub fn v(&self, i: usize) -> f64 {
        self.volume.as_ref().map_or(0.0, |v| v.at(self.index(i)))
    }

    /// Pressure and injected volume up to every sample that begins a block of 2^[`Self::slow`], kPa and mL.
    pub fn up_to_each_block(&self) -> (Vec<f64>, Vec<f64>) {
        // One block ends where the next begins.
        let (mut from, mut before) = (0, [0.0; 2]);
        let mean = |i: usize| {
            let up_to = self.up_to(i + 1);
            let sum = less(up_to, before);
            let mean = sum.map(|sum| sum / (i + 1 - from) as f64);
            (from, before) = (i + 1, up_to);
            mean.into()
        };
        (0..self.len()).step_by(1 << self.slow).map(mean).unzip()
    }

    /// First of the few samples that end with a sample.
    fn before_block(&self, i: usize) -> usize {
        (i + 1).saturating_sub(1 << self.slow)
    }

    /// Injected volume up to a sample, mL: where the clock is fast, the mean of the few samples that end there.
    #[inline]
    pub fn v_up_to(&self, i: usize) -> f64 {
        self.mean_v(self.before_block(i), i + 1)
    }

    /// Injected volume from a sample on, mL, likewise.
    #[inline]
    pub fn v_from(&self, i: usize) -> f64 {
        self.mean_v(i, (i + (1 << self.slow)).min(self.len()))
    }

    /// Standard deviation of such a volume, mL; NaN without a volume channel.
    pub fn v_noise(&self) -> f64 {
        self.trace.noise_ml / f64::from(1_u32 << self.slow).sqrt()
    }

    pub fn has_volume(&self) -> bool {
        self.volume.is_some()
    }

    /// Exponent of the blocks that what changes slowly is known for.
    pub fn slow(&self) -> u32 {
        self.slow
    }

    /// Times and pressures of the samples `from..to`.
    pub fn points(&self, from: usize, to: usize) -> (Vec<f64>, Vec<f64>) {
        (from..to).map(|i| (self.t(i), self.p(i))).unzip()
    }

    /// Steps of the clock in which a snap loses nearly all of its pressure. On a slow clock one sample may lie in the fall, so that
    /// it takes two steps; these are allowed as long as they are shorter than a slip.
    pub fn snap_steps(&self) -> usize {
        let (step, falls) = (self.trace.step_s, &self.settings.falls);
        let least = if 2.0 * step <= falls.slip_shortest_s {
            2
        } else {
            1
        };
        ((falls.snap_s / step).ceil() as usize).max(least)
    }

    pub fn clipped(&self, i: usize) -> bool {
        self.any_clipped(i, i + 1)
    }

    #[inline]
    pub fn any_clipped(&self, from: usize, to: usize) -> bool {
        self.clipped.touch(from, to)
    }

    /// The samples in which nothing moves.
    pub fn still(&self) -> Ranges {
        let stretches = self.motion.stretches().iter();
        stretches
            .filter(|stretch| stretch.0 == State::Still)
            .map(|&(_, from, to)| (self.first_from(from), self.first_from(to)))
            .collect()
    }

    /// Stiffness of the line alone at the pressure of a sample, if the line is known.
    pub fn stiffest(&self, i: usize) -> Option<f64> {
        self.line.map(|line| {
            self.settings.stiffness.line_ratio / line.capacity_ml_per_kpa(self.p(i)).max(1e-9)
        })
    }

    /// Mean pressure of a stretch, kPa.
    #[inline]
    pub fn mean_p(&self, from: usize, to: usize) -> f64 {
        self.mean(from, to)[0]
    }

    /// Mean volume of a stretch, mL; 0 without a volume channel.
    #[inline]
    pub fn mean_v(&self, from: usize, to: usize) -> f64 {
        self.mean(from, to)[1]
    }

    /// Mean pressure and volume of a stretch, kPa and mL.
    #[inline]
    pub fn mean(&self, from: usize, to: usize) -> Pair {
        let sum = less(self.up_to(to), self.up_to(from));
        sum.map(|sum| sum / (to - from) as f64)
    }

    /// Sums of pressure and volume before a sample.
    #[inline]
    fn up_to(&self, i: usize) -> Pair {
        self.sums.up_to(i, |i| [self.p(i), self.v(i)])
    }
}

/// Pressures asked together whether they are there.
const TOGETHER: usize = 256;

/// The samples that have a pressure.
fn with_pressure(pressure_kpa: &[f64]) -> Numbering {
    let mut at = Numbering::default();
    let mut from = 0;
    for part in pressure_kpa.chunks(TOGETHER) {
        // Without an early end several are compared at a time.
        if part.iter().fold(true, |all, p| all & p.is_finite()) {
            at.extend_by(from, part.len());
        } else {
            let there = part.iter().zip(from..).filter(|(p, _)| p.is_finite());
            there.for_each(|(_, i)| at.push(i));
        }
        from += part.len() as u64;
    }
    at
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

/// The level of the `n` samples up to `e`, which later levels are compared with.
pub(super) struct Before {
    e: usize,
    n: usize,
    /// True where a sample of it stands at the limit of the channel.
    clipped: bool,
    /// Mean pressure and volume, kPa and mL.
    mean: Pair,
    /// Volume up to `e`, mL.
    v_e: f64,
    /// Stiffness up to `e`, kPa/mL; 0 where nothing is corrected.
    past: f64,
}

impl Before {
    pub fn of(s: &Samples<'_>, k: &Stiffness, e: usize, n: usize) -> Option<Self> {
        let from = (e + 1).checked_sub(n)?;
        if e >= s.len() {
            return None;
        }
        let clipped = s.any_clipped(from, e + 1);
        Some(Self {
            e,
            n,
            clipped,
            mean: s.mean(from, e + 1),
            v_e: s.v_up_to(e),
            // At the limit of the channel the pressure does not follow the volume, so nothing is corrected.
            past: if clipped { 0.0 } else { k.past(e) },
        })
    }

    /// This level less the level from `e + gap` on.
    #[inline]
    pub fn probe(&self, s: &Samples<'_>, k: &Stiffness, gap: usize) -> Option<Probe> {
        let (first, end) = (self.e + gap, self.e + gap + self.n);
        if end > s.len() {
            return None;
        }
        let after = s.mean(first, end);
        let (past, future) = (self.past, k.future(first));
        let between = if self.clipped {
            0.0
        } else {
            f64::midpoint(past, future)
        };
        let v_first = s.v_from(first);
        let level_before = self.mean[0] + past * (self.v_e - self.mean[1]);
        let level_after = after[0] - future * (after[1] - v_first);
        Some(Probe {
            fall: level_before - level_after + between * (v_first - self.v_e),
            plain: self.mean[0] - after[0],
            moved: after[1] - self.mean[1],
            stiffness: past.max(future),
        })
    }
}

/// Level before `e` (inclusive) less level after `e + gap`, over `n` samples each.
pub(super) fn probe(
    s: &Samples<'_>,
    k: &Stiffness,
    e: usize,
    gap: usize,
    n: usize,
) -> Option<Probe> {
    Before::of(s, k, e, n)?.probe(s, k, gap)
}
