//! Thresholds of `src/detect/falls.rs` and of the levels before and after a fall.

thresholds! {
    /// Which sudden falls are one, and how they are measured.
    pub struct Falls {
        /// Shortest length of fall looked for, s: a snap with the ring of its transducer.
        gap_snap_s: f64 = 0.03,
        /// Middle length of fall looked for, s: a slow snap.
        gap_slow_snap_s: f64 = 0.12,
        /// Longest length of fall looked for, s: a slip.
        gap_slip_s: f64 = 0.35,
        /// Length of the levels before and after, s.
        level_s: f64 = 0.1,
        /// Fewest samples of a level.
        level_least_samples: usize = 2,
        /// A snap loses nearly all of its pressure within this time, s: three time constants of a line that transmits it (8 ms).
        snap_s: f64 = 0.025,
        /// Slips take longer than this, s: friction lets a balloon go over a tenth of a second and more.
        slip_shortest_s: f64 = 0.1,
        /// Two snaps are two if they are so many lengths of a level apart: one break may take the next with it.
        snaps_apart_levels: f64 = 2.0,
        /// The level is looked at again so long before and after, s: a fall that was not there before and stays is an event.
        stays_s: f64 = 0.4,
        /// Share of a fall that must be left of it (and not have been there before).
        stays_share: f64 = 0.5,
        /// So much of what moved volume makes of the pressure is allowed for when a fall is looked at again.
        stays_slack_share: f64 = 0.5,
        /// So many samples on a fall tell its pace.
        pace_samples: usize = 6,
        /// Length of the blocks compared to tell the speed of a fall, s: most of a period of mains hum.
        block_s: f64 = 0.012,
        /// A swing so many times larger than what stays of it is a knock on the line, not a fall; a damped ring after a snap stays below.
        knock_ratio: f64 = 2.5,
        /// A slip loses at least this share of its pressure within `snap_s`; a hand, creep or a leak is steadier.
        slip_fastest_share: f64 = 0.17,
        /// The same for a slow clock, where one or two steps are a good part of the time looked at.
        slip_fastest_slow_clock_share: f64 = 0.35,
        /// A fall cannot be larger than so many times the pressure there was (suction, and the uncertainty of both).
        all_of_it_ratio: f64 = 1.2,
        /// What a fall may exceed that by, in standard deviations of a sample.
        all_sigmas: f64 = 6.0,
        /// What a fall may exceed that by besides, in standard deviations of what moved volume explains.
        moved_sigmas: f64 = 2.0,
        /// On a slow clock a snap lies in so many steps.
        sudden_steps: f64 = 2.0,
        /// Share of the pressure that a creeping frame loses in a second after a stroke, at most (bench experience, no source).
        creeps_share_per_s: f64 = 0.03,
        /// What is left after a fall shows from this time after it on, s: a line swings before.
        settled_from_s: f64 = 0.15,
        /// What is left after a fall is taken up to this time after it, s.
        settled_to_s: f64 = 0.5,
        /// A pressure is below zero from so many standard uncertainties of a sample and its zero.
        suction_sigmas: f64 = 4.0,
        /// A pressure is below zero from this much besides, kPa: a hand's breadth of water, and the swing of a line.
        suction_kpa: f64 = 5.0,
        /// Samples further apart than so many steps have a gap between them.
        gap_steps: f64 = 2.5,
        /// A fall smaller than so many of its own standard uncertainties is none.
        drop_sigmas: f64 = 2.5,
        /// Below this share of the highest pressure nothing is loaded that could break.
        loaded_share: f64 = 0.05,
    }
}
