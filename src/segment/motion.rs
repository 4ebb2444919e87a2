//! Whether volume goes in, rests or comes out, sample by sample.

use crate::recording::Trace;

/// Half width of the window the rate is taken over, s: short against a stroke (0.5 to 2 s), long against the noise.
const HALF_WINDOW_S: f64 = 0.15;
/// A rate counts as motion from so many standard deviations of its noise.
const RATE_SIGMAS: f64 = 5.0;
/// Slowest motion worth a phase, mL/s: a tenth of a slow stroke.
const SLOWEST_ML_PER_S: f64 = 0.03;
/// Slowest stroke where only the pressure tells, as a share of the highest pressure a second.
const SLOWEST_SHARE_PER_S: f64 = 0.02;
/// Slowest withdrawal where only the pressure tells: a hand empties a balloon in a second or two, a leak loses less than this share of
/// the highest pressure a second.
const WITHDRAWAL_SHARE_PER_S: f64 = 0.15;

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
    /// State of every sample.
    pub state: Vec<State>,
    /// True where it was told from the volume, false where only the pressure told.
    pub from_volume: bool,
}

impl Motion {
    /// Motion of a trace, from its volume channel if it has one.
    pub fn of(trace: &Trace) -> Self {
        let from_volume = trace.volume_ml.is_some();
        let signal = filled(trace.volume_ml.as_deref().unwrap_or(&trace.pressure_kpa));
        let noise = if from_volume {
            trace.noise_ml
        } else {
            trace.noise_kpa
        };
        let half = ((HALF_WINDOW_S / trace.step_s).round() as usize).max(2);
        let rate = rates(&trace.time_s, &signal, half);
        let sigma = noise * (2.0 / half as f64).sqrt() / (half as f64 * trace.step_s);
        let top = signal.iter().copied().fold(0.0, f64::max);
        let (slowest_in, slowest_out) = if from_volume {
            (SLOWEST_ML_PER_S, SLOWEST_ML_PER_S)
        } else {
            (SLOWEST_SHARE_PER_S * top, WITHDRAWAL_SHARE_PER_S * top)
        };
        let (least_in, least_out) = (
            (RATE_SIGMAS * sigma).max(slowest_in),
            (RATE_SIGMAS * sigma).max(slowest_out),
        );
        let state = rate
            .iter()
            .map(|r| {
                if *r > least_in {
                    State::In
                } else if *r < -least_out {
                    State::Out
                } else {
                    State::Still
                }
            })
            .collect();
        Self { state, from_volume }
    }

    /// Stretches of one state: state, first sample, one past the last.
    pub fn stretches(&self) -> Vec<(State, usize, usize)> {
        let mut out: Vec<(State, usize, usize)> = Vec::new();
        for (i, state) in self.state.iter().enumerate() {
            match out.last_mut() {
                Some(last) if last.0 == *state => last.2 = i + 1,
                _ => out.push((*state, i, i + 1)),
            }
        }
        out
    }
}

/// Missing values replaced by the last one before (the first one after at the start).
fn filled(values: &[f64]) -> Vec<f64> {
    let mut last = values
        .iter()
        .copied()
        .find(|v| v.is_finite())
        .unwrap_or(0.0);
    values
        .iter()
        .map(|v| {
            if v.is_finite() {
                last = *v;
            }
            last
        })
        .collect()
}

/// Rate at each sample: mean of the `half` samples after less the mean of the `half` before, over the time between their middles.
fn rates(time_s: &[f64], signal: &[f64], half: usize) -> Vec<f64> {
    let mut sum = vec![0.0];
    let mut sum_t = vec![0.0];
    for (s, t) in signal.iter().zip(time_s) {
        sum.push(sum[sum.len() - 1] + s);
        sum_t.push(sum_t[sum_t.len() - 1] + t);
    }
    let mean =
        |sums: &[f64], from: usize, to: usize| (sums[to] - sums[from]) / (to - from).max(1) as f64;
    let n = signal.len();
    (0..n)
        .map(|i| {
            let from = i.saturating_sub(half);
            let to = (i + half).min(n);
            if i == from || i == to {
                return 0.0;
            }
            let change = mean(&sum, i, to) - mean(&sum, from, i);
            let time = mean(&sum_t, i, to) - mean(&sum_t, from, i);
            if time > 0.0 { change / time } else { 0.0 }
        })
        .collect()
}
