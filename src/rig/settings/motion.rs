//! Thresholds of `src/segment/motion.rs`.

thresholds! {
    /// Whether volume goes in, rests or comes out.
    pub struct Motion {
        /// Half width of the window the rate is taken over, s: short against a stroke (0.5 to 2 s), long against the noise.
        half_window_s: f64 = 0.15,
        /// A rate counts as motion from so many standard deviations of its noise.
        rate_sigmas: f64 = 5.0,
        /// Slowest motion worth a phase, mL/s: a tenth of a slow stroke.
        slowest_ml_per_s: f64 = 0.03,
        /// Slowest stroke where only the pressure tells, as a share of the highest pressure a second.
        slowest_share_per_s: f64 = 0.02,
        /// Slowest withdrawal where only the pressure tells: a hand empties a balloon in a second or two, a leak loses less than this
        /// share of the highest pressure a second.
        withdrawal_share_per_s: f64 = 0.15,
    }
}
