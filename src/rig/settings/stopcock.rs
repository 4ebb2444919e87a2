//! Thresholds of `src/detect/stopcock.rs`.

thresholds! {
    /// A stopcock shut and opened again.
    pub struct Stopcock {
        /// Longest time a stopcock stays shut in the middle of a run, s.
        shut_longest_s: f64 = 60.0,
        /// What is left counts as nothing, and a level as the same, within so many standard deviations of a sample.
        noise_sigmas: f64 = 6.0,
        /// Share of a fall that a step back up must make good to be its second edge.
        step_back_share: f64 = 0.6,
        /// How far from where the fall ended the step may begin, and from the old pressure it may end, as a share of that pressure
        /// (relaxation, suction on a shut inflator, and what was refilled meanwhile).
        step_back_level_share: f64 = 0.15,
        /// Share of a fall to nothing that a step back up must make good: less than a hand adds within a snap's time after a burst.
        step_from_nothing_share: f64 = 0.25,
    }
}
