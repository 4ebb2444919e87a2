//! Samples with a pressure, their running sums, and levels before and after a place, corrected for moved volume.

use super::stiffness::Stiffness;
use crate::balloon::LineModel;
use crate::recording::{Numbering, Trace};
use crate::segment::{BlockSums, Carried, Motion, State, shift_for};

/// A snap loses nearly all of its pressure within this time, s: three time constants of a line that transmits it (8 ms).
pub(super) const SNAP_S: f64 = 0.025;
/// Slips take longer than this, s: friction lets a balloon go over a tenth of a second and more.
const SLIP_SHORTEST_S: f64 = 0.1;

/// Block sums have so many blocks in the shortest level, so that little is added up again for each of them.
const BLOCKS_IN_LEVEL: usize = 200;

/// Falls are looked for so many times in the length of a level. A level moved by one such step holds nearly the same samples; what
/// is found is looked at again sample by sample.
const LOOKS_IN_LEVEL: usize = 8;

/// Samples from one look for a fall to the next, for levels of `n` samples.
pub(super) fn scan_step(n: usize) -> usize {
    (n / LOOKS_IN_LEVEL).max(1)
}

/// Samples of a trace that have a pressure, counted anew without the others. Columns of the trace are looked at where they are: beside
/// them only sums of blocks are held.
pub(super) struct Samples<'a> {
    pub trace: &'a Trace,
    pub motion: &'a Motion,
    pub line: Option<&'a LineModel>,
    /// Index of each into the trace.
    at: Numbering,
    /// True where every sample of the trace has a pressure.
    complete: bool,
    /// Injected volume, missing cells carried on.
    volume: Option<Carried<'a>>,
    sum_p: BlockSums,
    sum_v: Option<BlockSums>,
    /// Samples at the limit of the channel: first and one past the last of each stretch.
    clipped: Vec<(usize, usize)>,
    shift: u32,
}

impl<'a> Samples<'a> {
    /// Samples of a trace in which levels are taken over `level` samples and more.
    pub fn of(
        trace: &'a Trace,
        motion: &'a Motion,
        line: Option<&'a LineModel>,
        level: usize,
    ) -> Self {
        let p = &trace.pressure_kpa;
        let at = with_pressure(p);
        let complete = at.len() == p.len();
        let index = |i: usize| if complete { i } else { at.at(i) as usize };
        let shift = shift_for(at.len(), level, BLOCKS_IN_LEVEL);
        let volume = trace.volume_ml.as_ref().map(|v| Carried::of(v, shift));
        // Nearly every block lies in one piece in the trace.
        let in_one_piece = |from: usize, to: usize| {
            let first = index(from);
            (index(to - 1) - first == to - 1 - from).then_some((first, first + to - from))
        };
        let sum_p = if complete {
            BlockSums::of_values(p, shift)
        } else if shift == 0 {
            BlockSums::of_each(at.len(), at.iter().map(|i| p[i as usize]))
        } else {
            BlockSums::of(at.len(), shift, |from, to| match in_one_piece(from, to) {
                Some((from, to)) => p[from..to].iter().sum(),
                None => (from..to).map(|i| p[index(i)]).sum(),
            })
        };
        let sum_v = volume.as_ref().map(|v| {
            if complete {
                v.block_sums()
            } else if shift == 0 {
                BlockSums::of_each(at.len(), at.iter().map(|i| v.at(i as usize)))
            } else {
                BlockSums::of(at.len(), shift, |from, to| match in_one_piece(from, to) {
                    Some((from, to)) => v.sum(from, to),
                    None => (from..to).map(|i| v.at(index(i))).sum(),
                })
            }
        });
        let clipped = if trace.clipped.contains(&true) {
            stretches_of(at.len(), |i| trace.clipped[index(i)])
        } else {
            Vec::new()
        };
        Self {
            trace,
            motion,
            line,
            at,
            complete,
            volume,
            sum_p,
            sum_v,
            clipped,
            shift,
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
        self.trace.time_s[self.index(i)]
    }

    /// Pressure, kPa.
    #[inline]
    pub fn p(&self, i: usize) -> f64 {
        self.trace.pressure_kpa[self.index(i)]
    }

    /// Injected volume, mL; 0 without a volume channel.
    #[inline]
    pub fn v(&self, i: usize) -> f64 {
        self.volume.as_ref().map_or(0.0, |v| v.at(self.index(i)))
    }

    /// Injected volume and pressure up to every sample that begins a block of 2^[`Self::shift`], mL and kPa.
    pub fn up_to_each_block(&self) -> (Vec<f64>, Vec<f64>) {
        if self.shift == 0 {
            let mut each = (
                Vec::with_capacity(self.len()),
                Vec::with_capacity(self.len()),
            );
            let volume = self.volume.as_ref();
            each.extend(self.at.iter().map(|i| {
                let i = i as usize;
                (volume.map_or(0.0, |v| v.at(i)), self.trace.pressure_kpa[i])
            }));
            return each;
        }
        (0..self.len())
            .step_by(1 << self.shift)
            .map(|i| (self.v_up_to(i), self.p_up_to(i)))
            .unzip()
    }

    /// Injected volume up to a sample, mL: where the clock is fast, the mean of the few samples that end there.
    #[inline]
    pub fn v_up_to(&self, i: usize) -> f64 {
        if self.shift == 0 {
            return self.v(i);
        }
        self.mean_v((i + 1).saturating_sub(1 << self.shift), i + 1)
    }

    /// Pressure up to a sample, kPa, likewise.
    #[inline]
    pub fn p_up_to(&self, i: usize) -> f64 {
        if self.shift == 0 {
            return self.p(i);
        }
        self.mean_p((i + 1).saturating_sub(1 << self.shift), i + 1)
    }

    /// Injected volume from a sample on, mL, likewise.
    #[inline]
    pub fn v_from(&self, i: usize) -> f64 {
        if self.shift == 0 {
            return self.v(i);
        }
        self.mean_v(i, (i + (1 << self.shift)).min(self.len()))
    }

    /// Standard deviation of such a volume, mL; NaN without a volume channel.
    pub fn v_noise(&self) -> f64 {
        self.trace.noise_ml / f64::from(1_u32 << self.shift).sqrt()
    }

    pub fn has_volume(&self) -> bool {
        self.volume.is_some()
    }

    /// Exponent of the block that sums are kept for: what changes slowly need not be known more finely.
    pub fn shift(&self) -> u32 {
        self.shift
    }

    /// Times and pressures of the samples `from..to`.
    pub fn points(&self, from: usize, to: usize) -> (Vec<f64>, Vec<f64>) {
        (from..to).map(|i| (self.t(i), self.p(i))).unzip()
    }

    /// Steps of the clock in which a snap loses nearly all of its pressure. On a slow clock one sample may lie in the fall, so that
    /// it takes two steps; these are allowed as long as they are shorter than a slip.
    pub fn snap_steps(&self) -> usize {
        let step = self.trace.step_s;
        let least = if 2.0 * step <= SLIP_SHORTEST_S { 2 } else { 1 };
        ((SNAP_S / step).ceil() as usize).max(least)
    }

    pub fn clipped(&self, i: usize) -> bool {
        self.any_clipped(i, i + 1)
    }

    #[inline]
    pub fn any_clipped(&self, from: usize, to: usize) -> bool {
        if self.clipped.is_empty() {
            return false;
        }
        let next = self.clipped.partition_point(|stretch| stretch.1 <= from);
        self.clipped.get(next).is_some_and(|stretch| stretch.0 < to)
    }

    pub fn state(&self, i: usize) -> State {
        self.motion.at(self.index(i))
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
            .map(|line| 1.1 / line.capacity_ml_per_kpa(self.p(i)).max(1e-9))
    }

    /// Mean pressure of a stretch, kPa.
    #[inline]
    pub fn mean_p(&self, from: usize, to: usize) -> f64 {
        self.sum_p.sum(from, to, |i| self.p(i)) / (to - from) as f64
    }

    /// Mean volume of a stretch, mL; 0 without a volume channel.
    #[inline]
    pub fn mean_v(&self, from: usize, to: usize) -> f64 {
        self.sum_v.as_ref().map_or(0.0, |sums| {
            sums.sum(from, to, |i| self.v(i)) / (to - from) as f64
        })
    }
}

/// The samples that have a pressure.
fn with_pressure(pressure_kpa: &[f64]) -> Numbering {
    let mut at = Numbering::default();
    let mut from = 0;
    for stretch in pressure_kpa.split(|p| !p.is_finite()) {
        at.extend_by(from as u64, stretch.len());
        from += stretch.len() + 1;
    }
    at
}

/// Stretches in which something holds: first and one past the last.
fn stretches_of(length: usize, holds: impl Fn(usize) -> bool) -> Vec<(usize, usize)> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    for i in (0..length).filter(|i| holds(*i)) {
        match out.last_mut() {
            Some(last) if last.1 == i => last.1 = i + 1,
            _ => out.push((i, i + 1)),
        }
    }
    out
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
        (0.0, k.future(first_after))
    } else {
        (k.past(e), k.future(first_after))
    };
    let between = if clipped {
        0.0
    } else {
        f64::midpoint(past, future)
    };
    let (v_e, v_first) = (s.v_up_to(e), s.v_from(first_after));
    let level_before = before + past * (v_e - v_before);
    let level_after = after - future * (v_after - v_first);
    Some(Probe {
        fall: level_before - level_after + between * (v_first - v_e),
        plain: before - after,
        moved: v_after - v_before,
        stiffness: past.max(future),
    })
}
