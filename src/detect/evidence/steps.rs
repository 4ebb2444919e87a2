//! A step of another channel at the onset against what the channel does over the same time elsewhere in the run.

use crate::calibrate::mad_sigma;
use crate::recording::Trace;
use crate::rig::settings;

/// The usual step is told from so many places of the run ...
const PLACES: usize = 200;

/// The step of a channel over the onset, and how many times its usual step over the same time it is (robust standard deviation).
pub(super) struct Step {
    /// Level after less level before.
    pub size: f64,
    /// Over the usual step.
    pub times: f64,
}

/// The step of `values` over an onset between `lo` and `hi` (s); `u_time` is the standard uncertainty of the channel's clock and `u` that of a
/// value, below which no step is resolved.
pub(super) fn step(
    trace: &Trace,
    values: &[f64],
    (lo, hi): (f64, f64),
    (u, u_time): (f64, f64),
    is: &settings::Evidence,
) -> Option<Step> {
    let time = &trace.time_s[..];
    let doubt = is.clock_sigmas * u_time;
    let wait = is.step_opening_s + doubt;
    let n = ((is.step_level_s / trace.step_s).round() as usize).max(is.step_level_least_samples);
    let level = |from: usize| {
        // A missing sample makes the level missing.
        let level = values.get(from..from + n)?.iter().sum::<f64>() / n as f64;
        level.is_finite().then_some(level)
    };
    let before_end = time.partition_point(|t| *t <= lo - doubt);
    let after = time.partition_point(|t| *t < hi + wait);
    let between = after.checked_sub(before_end)?;
    let over = |from: usize| Some(level(from + n + between)? - level(from)?);
    let size = over(before_end.checked_sub(n)?)?;
    let places = values.len().checked_sub(2 * n + between)?;
    let usual: Vec<f64> = (0..places)
        .step_by((places / PLACES).max(1))
        .filter_map(over)
        .collect();
    if usual.len() < is.step_places_least {
        return None;
    }
    let spread = mad_sigma(&usual);
    let least = if u.is_finite() { u } else { 0.0 };
    let spread = spread.max(least);
    (spread > 0.0).then(|| Step {
        size,
        times: size / spread,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::Readings;
    use crate::uncertain::Draws;

    /// Noise of 0.02 with a step of 0.2 at 5 s: over the mean of ten samples on either side it is 0.2 / (0.02 sqrt(2 / 10)) = 22 times the
    /// usual one; a place without a step is within five.
    #[test]
    fn a_step_is_told_against_what_the_channel_usually_does() {
        let mut draws = Draws::new(8, "steps");
        let trace = Trace {
            time_s: Readings::from((0..1000).map(|k| f64::from(k) * 0.01).collect::<Vec<_>>()),
            step_s: 0.01,
            ..Trace::default()
        };
        let values: Vec<f64> = (0..1000)
            .map(|k| 0.02 * draws.normal() + if k < 500 { 0.0 } else { 0.2 })
            .collect();
        let is = settings::Evidence::default();
        let at = |t: f64, u: f64| step(&trace, &values, (t, t + 0.01), (u, 0.0), &is);
        assert!(at(4.99, f64::NAN).is_some_and(|s| (s.size - 0.2).abs() < 0.03));
        assert!(at(4.99, f64::NAN).is_some_and(|s| (15.0..32.0).contains(&s.times)));
        assert!(at(2.0, f64::NAN).is_some_and(|s| s.times.abs() < 5.0));
        // What a camera cannot resolve is no step.
        assert!(at(4.99, 1.0).is_some_and(|s| s.times < 0.3));
        // At the ends there is nothing to compare with.
        assert!(at(0.0, f64::NAN).is_none() && at(9.99, f64::NAN).is_none());
    }
}
