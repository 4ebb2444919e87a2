//! Local stiffness dp/dV of line, balloon and frame together, kPa/mL: the inverse of their capacity.

use super::levels::Samples;
use crate::segment::State;

/// Span of the increments, s: long against the noise of a sample, short against a stroke.
const SPAN_S: f64 = 0.1;
/// The stiffness remembers so much moved volume, mL: about one half turn of an inflator.
const MEMORY_ML: f64 = 0.25;
/// An increment of volume counts from so many standard deviations of its noise.
const INCREMENT_SIGMAS: f64 = 4.0;

/// Stiffness just before and just after every sample; 0 where nothing was moved yet (then nothing is corrected).
pub(super) struct Stiffness {
    pub past: Vec<f64>,
    pub future: Vec<f64>,
}

impl Stiffness {
    pub fn of(samples: &Samples<'_>) -> Self {
        let n = samples.len();
        let Some(v) = samples.volume.as_ref() else {
            return Self {
                past: vec![0.0; n],
                future: vec![0.0; n],
            };
        };
        let span = ((SPAN_S / samples.trace.step_s).round() as usize).max(1);
        let least = INCREMENT_SIGMAS * std::f64::consts::SQRT_2 * samples.trace.noise_ml;
        // Products of increments that end at each sample; falls while volume goes in are events, not stiffness.
        let products: Vec<(f64, f64)> = (0..n)
            .map(|i| {
                if i < span || samples.clipped(i) || samples.clipped(i - span) {
                    return (0.0, 0.0);
                }
                let (dp, dv) = (samples.p[i] - samples.p[i - span], v[i] - v[i - span]);
                if dv > least && dp > 0.0 {
                    (dp * dv, dv * dv)
                } else {
                    (0.0, 0.0)
                }
            })
            .collect();
        let moved: Vec<f64> = (0..n)
            .map(|i| {
                if i > 0 && samples.state(i) != State::Still {
                    (v[i] - v[i - 1]).abs()
                } else {
                    0.0
                }
            })
            .collect();
        let mut past = vec![0.0; n];
        let (mut pv, mut vv) = (0.0, 0.0);
        for i in 0..n {
            let keep = (-moved[i] / MEMORY_ML).exp();
            pv = pv * keep + products[i].0;
            vv = vv * keep + products[i].1;
            past[i] = if vv > 0.0 {
                samples.bounded(i, pv / vv)
            } else {
                0.0
            };
        }
        let mut future = vec![0.0; n];
        let (mut pv, mut vv) = (0.0, 0.0);
        for i in (0..n).rev() {
            future[i] = if vv > 0.0 {
                samples.bounded(i, pv / vv)
            } else {
                past[i]
            };
            let keep = (-moved[i] / MEMORY_ML).exp();
            let ends = i + span;
            let (a, b) = if ends < n { products[ends] } else { (0.0, 0.0) };
            pv = pv * keep + a;
            vv = vv * keep + b;
        }
        Self { past, future }
    }
}
