//! The pressure just before an onset, with what makes it uncertain.

use super::levels::Samples;
use super::pressure_only;
use super::stiffness::Stiffness;

/// Pressure just before an onset and its standard uncertainties apart from the channel's own, kPa.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Level {
    /// The pressure.
    pub kpa: f64,
    /// From the noise of the samples it is the mean of.
    pub noise: f64,
    /// From the interval in which the onset lies, while the pressure rises (rectangle).
    pub timing: f64,
    /// From the noise of the volume counter, by which the pressure is carried on to the onset.
    pub counter: f64,
    /// From being carried on beyond the limit of the channel; NaN where that fails, so that the pressure is the limit and was at least that.
    pub beyond_limit: f64,
}

impl Level {
    /// All of them together.
    pub fn u(&self) -> f64 {
        (self.noise.powi(2)
            + self.timing.powi(2)
            + self.counter.powi(2)
            + self.beyond_limit.powi(2))
        .sqrt()
    }
}

/// The pressure at an onset between two samples from the `n` samples before it.
pub(super) fn level_before(
    s: &Samples<'_>,
    k: &Stiffness,
    (before, first): (usize, usize),
    n: usize,
    clipped: bool,
    single: f64,
) -> Level {
    let noise = single / (n as f64).sqrt();
    if !s.has_volume() && !clipped {
        let t = f64::midpoint(s.t(first - 1), s.t(first));
        let from = (before + 1).saturating_sub(n);
        let (kpa, u, slope) = pressure_only::level_at(s, from, before + 1, t);
        return Level {
            kpa,
            noise: u.max(noise),
            timing: slope * (s.t(first) - s.t(before)) / 12.0_f64.sqrt(),
            ..Level::default()
        };
    }
    let volume = f64::midpoint(s.v_up_to(first - 1), s.v_from(first));
    // The last level that the limit of the channel does not touch.
    let mut last = before;
    if clipped {
        while last + 1 > n && s.any_clipped(last + 1 - n, last + 1) {
            last -= 1;
        }
    }
    let from = (last + 1).saturating_sub(n);
    let stiffness = k.past(last);
    let carried_on = stiffness * (volume - s.mean_v(from, last + 1));
    // Where the pressure rises, an onset known to an interval is a pressure known to an interval (rectangle).
    let timing = stiffness * (s.v(first) - s.v(before)).abs() / 12.0_f64.sqrt();
    let counter = stiffness * s.v_noise().max(0.0) / 2.0_f64.sqrt();
    let kpa = s.mean_p(from, last + 1) + carried_on;
    let limit = s.trace.highest_kpa();
    if clipped && kpa < limit {
        // Carried on with the volume it should have stayed below: how far it was beyond is not known.
        return Level {
            kpa: limit,
            beyond_limit: f64::NAN,
            ..Level::default()
        };
    }
    Level {
        kpa,
        noise,
        timing,
        counter: if counter.is_finite() { counter } else { 0.0 },
        beyond_limit: if clipped {
            s.settings.level.extrapolation_u_share * carried_on.abs()
        } else {
            0.0
        },
    }
}
