//! Every threshold of the analysis, named, reasoned and settable in `[settings]` of `study.toml`.
//!
//! A concept has a group of its own: `[settings.leak] shortest_s = 0.3` or, under `[settings]`, `leak.shortest_s = 0.3`. Keys end in
//! their unit, which also says what a value may be ([`read`]). Left out are numbers of pure calculation: how many looks, steps and
//! blocks a search or an integral is made in and how many at most, and factors that follow from a formula. They weigh time against
//! rounding and say nothing of a bench.

#[macro_use]
mod thresholds;

mod balloon;
mod definitions;
mod edge;
mod evidence;
mod falls;
mod frame;
mod leak;
mod level;
mod line;
mod motion;
mod onset;
mod outcome;
mod phases;
mod pressure_only;
mod read;
mod relaxation;
mod rests;
mod search;
mod stiffness;
mod stopcock;

pub use balloon::Balloon;
pub use definitions::Definitions;
pub use edge::Edge;
pub use evidence::Evidence;
pub use falls::Falls;
pub use frame::Frame;
pub use leak::Leak;
pub use level::Level;
pub use line::Line;
pub use motion::Motion;
pub use onset::Onset;
pub use outcome::Outcome;
pub use phases::Phases;
pub use pressure_only::PressureOnly;
pub use read::{EVEN, Fault, read, read_text};
pub use relaxation::Relaxation;
pub use rests::Rests;
pub use search::Search;
pub use stiffness::Stiffness;
pub use stopcock::Stopcock;
pub use thresholds::Setting;

thresholds! {
    /// Thresholds. Each has a default; a study may set any of them. They are printed with the results.
    pub struct Settings {
        /// Fewest usable pressure samples of a run: less is no recording.
        fewest_samples: usize = 20,
        /// One pressure repeated for so many samples may be a held channel.
        held_samples: usize = 6,
        /// A held stretch is so many times longer than chance repeats explain.
        held_over_chance: f64 = 2.5,
        /// A spike stands off by so many noise standard deviations.
        spike_sigmas: f64 = 12.0,
        /// Largest unrest around a spike, as a share of its height.
        spike_neighbours: f64 = 0.25,
        /// Longest vented stretch looked for at the start, s.
        vent_longest_s: f64 = 5.0,
        /// Shortest vented stretch that gives a zero, s.
        vent_shortest_s: f64 = 0.4,
        /// A zero larger than this is reported, kPa: 1 % of a 20-bar channel.
        zero_doubt_kpa: f64 = 20.0,
        /// A drift larger than this is reported, kPa.
        drift_doubt_kpa: f64 = 10.0,
        /// More than this between the vents is no drift: the line was not vented, kPa (one atmosphere).
        drift_largest_kpa: f64 = 100.0,
        /// A hum line stands so many times over the median of the spectrum (power).
        hum_over_floor: f64 = 400.0,
        /// So many sudden falls of a run may be noise alone (one in ten thousand runs, about six standard deviations); the longer the run and
        /// the faster its clock, the more standard deviations a fall needs.
        false_alarms_per_run: f64 = 1e-4,
        /// Smallest sudden fall as a share of the pressure that the stored volume of the line and balloon explains.
        drop_share: f64 = 0.004,
        /// Share of the pressure change explained by the moved volume that may be misjudged.
        volume_share: f64 = 0.25,
        /// A fall that loses less than this share of its pressure within `falls.snap_s` (or one step of a slower clock) is slow: a slip, not a
        /// snap.
        snap_share: f64 = 0.8,
        /// A slow fall counts as a slip from this share of the pressure.
        slow_drop_share: f64 = 0.03,
        /// Longest fall that counts as one event, s.
        fall_longest_s: f64 = 0.6,
        /// Pressure left after a burst, as a share of the pressure before.
        burst_left_share: f64 = 0.06,
        /// A hold leaks if it loses this share of its pressure a second without slowing down.
        leak_share_per_s: f64 = 0.004,
        /// Smallest set over the diameter before that counts as stretched: about four times the uncertainty of a set from calipers.
        set_ratio_least: f64 = 0.01,
        /// A set counts from so many standard uncertainties.
        set_sigmas: f64 = 3.0,
        /// Confidence level of intervals in the group statistics.
        confidence: f64 = 0.95,
    }
    groups {
        /// Whether volume goes in, rests or comes out.
        motion: Motion,
        /// What the operator did.
        phases: Phases,
        /// Quasi-static points.
        rests: Rests,
        /// Which sudden falls are one, and how they are measured.
        falls: Falls,
        /// The search for places where a fall may be.
        search: Search,
        /// Stiffness of line, balloon and frame together.
        stiffness: Stiffness,
        /// Between which samples a fall begins and ends.
        edge: Edge,
        /// When a fall began.
        onset: Onset,
        /// The pressure just before an onset.
        level: Level,
        /// The pressure of a break by every definition.
        definitions: Definitions,
        /// A stopcock shut and opened again.
        stopcock: Stopcock,
        /// Falls of a recording without a volume channel.
        pressure_only: PressureOnly,
        /// Leaks at rest.
        leak: Leak,
        /// What speaks for and against each kind of a fall.
        evidence: Evidence,
        /// The outcome of a run.
        outcome: Outcome,
        /// The line of the rig.
        line: Line,
        /// The free balloon and its rating.
        balloon: Balloon,
        /// The frame under load.
        frame: Frame,
        /// Relaxation in holds.
        relaxation: Relaxation,
    }
}

impl Settings {
    /// Every threshold with its value.
    pub fn list(&self) -> Vec<Setting> {
        let mut list = Vec::new();
        self.list_in("", &mut list);
        list
    }
}
