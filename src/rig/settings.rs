//! Every threshold of the analysis, named, reasoned and settable in `[settings]` of `study.toml`.

use serde::{Deserialize, Serialize};

/// Thresholds. Each has a default; a study may set any of them. They are printed with the results.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// Fewest usable pressure samples of a run. Default 20: less is no recording.
    pub fewest_samples: usize,
    /// One pressure repeated for so many samples may be a held channel. Default 6.
    pub held_samples: usize,
    /// A held stretch is so many times longer than chance repeats explain. Default 2.5.
    pub held_over_chance: f64,
    /// A spike stands off by so many noise standard deviations. Default 12.
    pub spike_sigmas: f64,
    /// Largest unrest around a spike, as a share of its height. Default 0.25.
    pub spike_neighbours: f64,
    /// Longest vented stretch looked for at the start, s. Default 5.
    pub vent_longest_s: f64,
    /// Shortest vented stretch that gives a zero, s. Default 0.4.
    pub vent_shortest_s: f64,
    /// A zero larger than this is reported, kPa. Default 20 (1 % of a 20-bar channel).
    pub zero_doubt_kpa: f64,
    /// A drift larger than this is reported, kPa. Default 10.
    pub drift_doubt_kpa: f64,
    /// More than this between the vents is no drift: the line was not vented, kPa. Default 100 (one atmosphere).
    pub drift_largest_kpa: f64,
    /// A hum line stands so many times over the median of the spectrum (power). Default 400.
    pub hum_over_floor: f64,
    /// So many sudden falls of a run may be noise alone; the longer the run and the faster its clock, the more standard deviations a fall
    /// needs. Default 0.0001: one in ten thousand runs (about six standard deviations).
    pub false_alarms_per_run: f64,
    /// Smallest sudden fall as a share of the pressure that the stored volume of the line and balloon explains. Default 0.004.
    pub drop_share: f64,
    /// Share of the pressure change explained by the moved volume that may be misjudged. Default 0.25.
    pub volume_share: f64,
    /// A fall that loses less than this share of its pressure within 25 ms (or one step of a slower clock) is slow: a slip, not a
    /// snap. Default 0.8.
    pub snap_share: f64,
    /// A slow fall counts as a slip from this share of the pressure. Default 0.03.
    pub slow_drop_share: f64,
    /// Longest fall that counts as one event, s. Default 0.6.
    pub fall_longest_s: f64,
    /// Pressure left after a burst, as a share of the pressure before. Default 0.06.
    pub burst_left_share: f64,
    /// A hold leaks if it loses this share of its pressure a second without slowing down. Default 0.004.
    pub leak_share_per_s: f64,
    /// Smallest set over the diameter before that counts as stretched. Default 0.01 (about four times the uncertainty of a
    /// set from calipers).
    pub set_ratio_least: f64,
    /// A set counts from so many standard uncertainties. Default 3.
    pub set_sigmas: f64,
    /// Confidence level of intervals in the group statistics. Default 0.95.
    pub confidence: f64,
    /// Width of the tolerance of a diameter, mm, that a gauge study is set against. No default: a lab declares it.
    pub diameter_tolerance_mm: Option<f64>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            fewest_samples: 20,
            held_samples: 6,
            held_over_chance: 2.5,
            spike_sigmas: 12.0,
            spike_neighbours: 0.25,
            vent_longest_s: 5.0,
            vent_shortest_s: 0.4,
            zero_doubt_kpa: 20.0,
            drift_doubt_kpa: 10.0,
            drift_largest_kpa: 100.0,
            hum_over_floor: 400.0,
            false_alarms_per_run: 1e-4,
            drop_share: 0.004,
            volume_share: 0.25,
            snap_share: 0.8,
            slow_drop_share: 0.03,
            fall_longest_s: 0.6,
            burst_left_share: 0.06,
            leak_share_per_s: 0.004,
            set_ratio_least: 0.01,
            set_sigmas: 3.0,
            confidence: 0.95,
            diameter_tolerance_mm: None,
        }
    }
}
