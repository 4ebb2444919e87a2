//! Local stiffness dp/dV of line, balloon and frame together, kPa/mL: the inverse of their capacity.

use super::levels::Samples;
use crate::segment::State;

/// What is remembered of the increments met so far.
#[derive(Default)]
struct Memory {
    /// Sums of the products of pressure and volume, and of squared volume.
    pv: f64,
    vv: f64,
    /// What is left of the last increment.
    fresh: f64,
}

impl Memory {
    fn remember(&mut self, (pv, vv): (f64, f64), keep: f64) {
        self.pv = self.pv * keep + pv;
        self.vv = self.vv * keep + vv;
        self.fresh = if vv > 0.0 { 1.0 } else { self.fresh * keep };
    }

    /// Stiffness; not a number where nothing was met or all of it is as good as forgotten.
    fn stiffness(&self, forgotten_share: f64) -> f64 {
        if self.fresh > forgotten_share {
            self.pv / self.vv
        } else {
            f64::NAN
        }
    }
}

/// Stiffness just before and just after every sample, known at the beginnings of blocks; 0 where nothing was moved yet or all of it
/// is forgotten (then nothing is corrected).
pub(super) struct Stiffness {
    shift: u32,
    past: Vec<f64>,
    future: Vec<f64>,
}

impl Stiffness {
    /// Stiffness along samples with a volume; none anywhere without.
    pub fn of(samples: &Samples<'_>) -> Self {
        let is = &samples.settings.stiffness;
        let shift = samples.slow();
        if !samples.has_volume() || samples.len() == 0 {
            return Self {
                shift,
                past: Vec::new(),
                future: Vec::new(),
            };
        }
        let span = (((is.span_s / samples.trace.step_s).round() as usize) >> shift)
            .max(is.span_least_looks);
        // A look is the mean of the block that ends with it.
        let block = 1_usize << shift;
        // Hum and the steps of a counter do not average out, so the noise of single samples stays the measure.
        let least = is.increment_sigmas * std::f64::consts::SQRT_2 * samples.trace.noise_ml;
        let noise = is.fall_sigmas * samples.trace.noise_kpa * (2.0 / block as f64).sqrt();
        let (p, v) = samples.up_to_each_block();
        let looks = v.len();
        let clipped = |at: usize| {
            let last = at << shift;
            samples.any_clipped(last.saturating_sub(block - 1), last + 1)
        };
        // Products of the increments that end at a look; falls while volume goes in are events, not stiffness.
        let products = |at: usize| {
            if at < span || at >= looks {
                return (0.0, 0.0);
            }
            let dv = v[at] - v[at - span];
            if dv <= least || clipped(at) || clipped(at - span) {
                return (0.0, 0.0);
            }
            let dp = p[at] - p[at - span];
            // What noise alone makes of a rise counts too: the rises alone would be steeper than they are.
            if dp > -noise {
                // One look of a slow clock in the fill moves more than a whole stroke: it must not outlive its memory by its weight.
                let weight = (is.longest_increment_ml / dv).min(1.0).powi(2);
                (weight * dp * dv, weight * dv * dv)
            } else {
                (0.0, 0.0)
            }
        };
        let mut keep = vec![1.0; looks];
        for &(state, from, to) in samples.motion.stretches() {
            if state == State::Still {
                continue;
            }
            let look = |index: usize| samples.first_from(index).div_ceil(block);
            for at in look(from).max(1)..look(to).min(looks) {
                keep[at] = (-(v[at] - v[at - 1]).abs() / is.memory_ml).exp();
            }
        }
        // Not a number where nothing is remembered.
        let mut past = vec![f64::NAN; looks];
        let mut memory = Memory::default();
        for at in 0..looks {
            memory.remember(products(at), keep[at]);
            past[at] = memory.stiffness(is.forgotten_share);
        }
        let mut future = past.clone();
        let mut memory = Memory::default();
        for at in (0..looks).rev() {
            let known = memory.stiffness(is.forgotten_share);
            if !known.is_nan() {
                future[at] = known;
            }
            memory.remember(products(at + span), keep[at]);
            let most = samples.stiffest(at << shift).unwrap_or(f64::INFINITY);
            for stiffness in [&mut past[at], &mut future[at]] {
                *stiffness = if stiffness.is_nan() { 0.0 } else { *stiffness }.min(most);
            }
        }
        Self {
            shift,
            past,
            future,
        }
    }

    /// Stiffness just before a sample, kPa/mL.
    #[inline]
    pub fn past(&self, i: usize) -> f64 {
        self.past.get(i >> self.shift).copied().unwrap_or(0.0)
    }

    /// Stiffness just after a sample, kPa/mL.
    #[inline]
    pub fn future(&self, i: usize) -> f64 {
        // The next look, so that nothing from before the sample counts.
        let next = (i + (1 << self.shift) - 1) >> self.shift;
        self.future
            .get(next)
            .or(self.future.last())
            .copied()
            .unwrap_or(0.0)
    }
}
