//! Whether volume goes in, rests or comes out, sample by sample.

use super::sums::{BlockSums, Carried, Pair, less, shift_for};
use crate::recording::Trace;
use crate::rig::settings;

/// The motion is looked at so many times in half a window; where it changes between two looks, sample by sample.
const LOOKS: usize = 16;

/// State of a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Volume goes in.
    In,
    /// At rest.
    Still,
    /// Volume comes out.
    Out,
}

/// Motion of a trace.
#[derive(Debug, Clone, PartialEq)]
pub struct Motion {
    stretches: Vec<Stretch>,
    /// True where it was told from the volume, false where only the pressure told.
    pub from_volume: bool,
}

/// Samples of one state: state, first sample, one past the last.
pub type Stretch = (State, usize, usize);

impl Motion {
    /// Motion of a trace, from its volume channel if it has one.
    pub fn of(trace: &Trace, settings: &settings::Motion) -> Self {
        let from_volume = trace.volume_ml.is_some();
        let noise = if from_volume {
            trace.noise_ml
        } else {
            trace.noise_kpa
        };
        let half =
            ((settings.half_window_s / trace.step_s).round() as usize).clamp(2, trace.len().max(2));
        let shift = shift_for(trace.len(), half, LOOKS);
        // Whole blocks, so that little is added up for a look.
        let half = half.next_multiple_of(1 << shift);
        let signal = Carried::of(
            trace.volume_ml.as_deref().unwrap_or(&trace.pressure_kpa),
            shift,
        );
        let rates = Rates::of(&trace.time_s, &signal, half, shift);
        let sigma = noise * (2.0 / half as f64).sqrt() / (half as f64 * trace.step_s);
        let (slowest_in, slowest_out) = if from_volume {
            (settings.slowest_ml_per_s, settings.slowest_ml_per_s)
        } else {
            let top = trace.highest_kpa();
            (
                settings.slowest_share_per_s * top,
                settings.withdrawal_share_per_s * top,
            )
        };
        let (least_in, least_out) = (
            (settings.rate_sigmas * sigma).max(slowest_in),
            (settings.rate_sigmas * sigma).max(slowest_out),
        );
        let state = |sample: usize| {
            let rate = rates.at(sample);
            if rate > least_in {
                State::In
            } else if rate < -least_out {
                State::Out
            } else {
                State::Still
            }
        };
        Self {
            stretches: stretches(trace.len(), 1 << shift, state),
            from_volume,
        }
    }

    /// Stretches of one state, in time order and without gaps between them.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    /// State of a sample; still beyond the end.
    pub fn at(&self, sample: usize) -> State {
        let at = self.stretches.partition_point(|s| s.2 <= sample);
        self.stretches.get(at).map_or(State::Still, |s| s.0)
    }
}

/// Stretches of one state. The state is looked at every `step` samples; where two looks differ, every sample between them is.
fn stretches(samples: usize, step: usize, state: impl Fn(usize) -> State) -> Vec<Stretch> {
    let mut out: Vec<Stretch> = Vec::new();
    let mut push = |now: State, from: usize, to: usize| match out.last_mut() {
        Some(last) if last.0 == now => last.2 = to,
        _ => out.push((now, from, to)),
    };
    let mut last = None;
    for look in (0..samples).step_by(step).chain(samples.checked_sub(1)) {
        let now = state(look);
        let from = last.map_or(look, |(at, _)| at + 1);
        if last.is_none_or(|(_, before)| before == now) {
            push(now, from, look + 1);
        } else {
            for sample in from..look {
                push(state(sample), sample, sample + 1);
            }
            push(now, look, look + 1);
        }
        last = Some((look, now));
    }
    out
}

/// Rate at each sample: mean of the `half` samples after less the mean of the `half` before, over the time between their middles.
struct Rates<'s, 'v> {
    time_s: &'v [f64],
    signal: &'s Carried<'v>,
    half: usize,
    /// Of the signal and the time.
    sums: BlockSums,
}

impl<'s, 'v> Rates<'s, 'v> {
    fn of(time_s: &'v [f64], signal: &'s Carried<'v>, half: usize, shift: u32) -> Self {
        Self {
            time_s,
            signal,
            half,
            sums: BlockSums::of(time_s.len(), shift, |from, to| {
                [signal.sum(from, to), time_s[from..to].iter().sum()]
            }),
        }
    }

    fn at(&self, sample: usize) -> f64 {
        let from = sample.saturating_sub(self.half);
        let to = (sample + self.half).min(self.time_s.len());
        if sample == from || sample == to {
            return 0.0;
        }
        let value = |i: usize| [self.signal.at(i), self.time_s[i]];
        let up_to = [from, sample, to].map(|at| self.sums.up_to(at, value));
        let mean = |sums: Pair, n: usize| sums.map(|sum| sum / n as f64);
        let before = mean(less(up_to[1], up_to[0]), sample - from);
        let after = mean(less(up_to[2], up_to[1]), to - sample);
        let [moved, time] = less(after, before);
        if time > 0.0 { moved / time } else { 0.0 }
    }
}
