//! A calibrated recording in bench units.

use super::{Numbering, Readings};
use crate::uncertain::less;

/// Samples asked together whether the channel was at its limit.
const TOGETHER: usize = 64;

/// A trace: sorted in time, in bench units, with gaps left as gaps. All vectors have the same length.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Trace {
    /// Time, s from the first sample, strictly increasing.
    pub time_s: Readings,
    /// Data row of the file each sample came from, counted from 0.
    pub row: Numbering,
    /// Line of the file each sample came from, counted from 1.
    pub line: Numbering,
    /// Gauge pressure, kPa, zeroed at the vented stretch; NaN where missing, clipped samples stay at the clip level.
    pub pressure_kpa: Readings,
    /// True where the transducer was at its limit and the true pressure is higher.
    pub clipped: Vec<bool>,
    /// Injected volume counted over the whole run, mL: the hand-over jump of the counter is taken out; NaN where missing.
    pub volume_ml: Option<Readings>,
    /// Optical waist diameter, mm, moved back by the delay of its channel; NaN where missing.
    pub diameter_mm: Option<Readings>,
    /// Sound channel, in its own unit; from a further, faster recording its envelope: the largest distance from its median in the interval
    /// of each sample.
    pub sound: Option<Readings>,
    /// Marker channel, in its own unit.
    pub marker: Option<Readings>,
    /// Axial force, N.
    pub force_n: Option<Readings>,
    /// Temperature, °C.
    pub temperature_degc: Option<Readings>,
    /// Usual step between samples, s.
    pub step_s: f64,
    /// Standard deviation of one pressure sample at rest, kPa (robust, from the quietest stretches).
    pub noise_kpa: f64,
    /// Standard deviation of slow noise, kPa: what the means of vented stretches a second apart differ by beyond the noise of their samples,
    /// and what no number of samples of one rest averages out; 0 where no vent tells.
    pub slow_kpa: f64,
    /// Standard deviation of one volume sample at rest, mL; NaN without a volume channel.
    pub noise_ml: f64,
    /// Standard uncertainty of the zero where it was taken, kPa.
    pub u_zero_kpa: f64,
    /// Time at which the zero was taken, s.
    pub zeroed_at_s: f64,
    /// Drift of the zero that was found between two vents and taken out, kPa/s; none where no second vent tells.
    pub drift_kpa_per_s: Option<f64>,
    /// Standard uncertainty of the drift of the zero where none was found, kPa/s: it grows with the time since the zero was taken. 0 where
    /// the drift was taken out or nothing is known of it.
    pub u_drift_kpa_per_s: f64,
    /// Standard uncertainty of the pressure channel apart from noise: constant part, kPa.
    pub u_pressure_kpa: f64,
    /// Standard uncertainty of the pressure channel: relative part.
    pub u_pressure_rel: f64,
    /// Resistance of the line between the transducer and the balloon: 0 on the balloon's side, none where not declared.
    pub line_resistance: Option<LineResistance>,
    /// Standard uncertainty of the volume channel: constant part, mL.
    pub u_volume_ml: f64,
    /// Standard uncertainty of the volume channel: relative part.
    pub u_volume_rel: f64,
    /// Standard uncertainty of one optical diameter, mm; NaN without the channel or where not declared.
    pub u_diameter_mm: f64,
    /// Standard uncertainty in time of the optical diameter, s, where it comes from a further recording whose clock was put on this one; 0
    /// on one clock. Counts with the rate at which the diameter changes.
    pub diameter_u_time_s: f64,
    /// The same of the sound.
    pub sound_u_time_s: f64,
    /// Sample at which the volume counter was handed over from syringe to inflator, if a jump was seen.
    pub handover: Option<usize>,
    /// Standard uncertainty of the volume counted up to the hand-over against that after it, mL; 0 where nothing was joined.
    pub u_handover_ml: f64,
}

/// What a line takes of the pressure for a flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineResistance {
    /// Pressure over flow, kPa s/mL.
    pub kpa_s_per_ml: f64,
    /// Its relative standard uncertainty.
    pub u_rel: f64,
}

impl Trace {
    /// Number of samples.
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// True without samples.
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }

    /// Highest pressure of a single sample, kPa; 0 where none is above zero.
    pub fn highest_kpa(&self) -> f64 {
        highest(&self.pressure_kpa).max(0.0)
    }

    /// True where the channel was at its limit anywhere.
    pub fn any_clipped(&self) -> bool {
        // Without an early end many are looked at together.
        let mut parts = self.clipped.chunks(TOGETHER);
        parts.any(|part| part.iter().fold(false, |any, clipped| any | clipped))
    }

    /// Standard uncertainty of the zero (kPa) at a time of the run (s), its drift included.
    pub fn u_zero_at(&self, t_s: f64) -> f64 {
        self.u_zero_kpa
            .hypot(self.u_drift_kpa_per_s * (t_s - self.zeroed_at_s))
    }

    /// Standard uncertainty of a pressure (kPa) at a time of the run (s), averaged over so many samples that noise does not count: channel
    /// and zero.
    pub fn u_pressure_at(&self, pressure_kpa: f64, t_s: f64) -> f64 {
        (self.u_pressure_kpa.powi(2)
            + self.u_zero_at(t_s).powi(2)
            + (self.u_pressure_rel * pressure_kpa).powi(2))
        .sqrt()
    }

    /// What a pressure known to `u_kpa` at a time of the run (s) errs by beside channel and zero, kPa.
    pub fn u_beside_channel(&self, u_kpa: f64, pressure_kpa: f64, t_s: f64) -> f64 {
        less(u_kpa, self.u_pressure_at(pressure_kpa, t_s))
    }
}

/// Mean of the finite values; `None` where there is none. Several at a time, as [`highest`].
pub(crate) fn mean(values: &[f64]) -> Option<f64> {
    let mut sums = [0.0; 8];
    let mut counts = [0.0; 8];
    for part in values.chunks(8) {
        for ((sum, n), value) in sums.iter_mut().zip(&mut counts).zip(part) {
            let there = value.is_finite();
            *sum += if there { *value } else { 0.0 };
            *n += f64::from(u8::from(there));
        }
    }
    let n: f64 = counts.iter().sum();
    (n > 0.0).then(|| sums.iter().sum::<f64>() / n)
}

/// Highest of the finite values; negative infinity where there is none. Several at a time: one after the other takes as long as reading
/// them.
pub(crate) fn highest(values: &[f64]) -> f64 {
    let mut lanes = [f64::NEG_INFINITY; 8];
    let parts = values.chunks_exact(8);
    let rest = parts.remainder();
    for part in parts.chain([rest]) {
        for (lane, value) in lanes.iter_mut().zip(part) {
            // A missing value is not larger than anything.
            let larger = (*value > *lane) & value.is_finite();
            *lane = if larger { *value } else { *lane };
        }
    }
    lanes.into_iter().fold(f64::NEG_INFINITY, f64::max)
}
