//! Thresholds of `src/detect/search.rs`.

thresholds! {
    /// The search for places where a fall may be.
    pub struct Search {
        /// Fewest falls estimated at rest that tell their spread.
        rests_least: usize = 20,
        /// With fewer of them white noise is taken, so many times as large for what is slow in it.
        slow_noise_ratio: f64 = 2.0,
        /// Volume comes out from so many standard deviations of the difference of two levels.
        out_sigmas: f64 = 3.0,
        /// Where the line is not known, nothing is stiffer than so many times what was met.
        stiffest_ratio: f64 = 3.0,
        /// A fall so many times larger than what came out explains is no backing off.
        beyond_withdrawal_ratio: f64 = 1.5,
    }
}
