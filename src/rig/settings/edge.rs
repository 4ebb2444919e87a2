//! Thresholds of `src/detect/edge.rs`.

thresholds! {
    /// Between which samples a fall begins and ends.
    pub struct Edge {
        /// Share of the fall from which a sample belongs to it (or `first_sigmas`, if that is more).
        first_share: f64 = 0.06,
        /// Standard deviations of a sample from which it belongs to the fall.
        first_sigmas: f64 = 3.0,
        /// A sample has fallen whole when no more than this share is missing (or `whole_sigmas`, if that is more).
        whole_share: f64 = 0.08,
        /// Standard deviations of a sample that may be missing where it has fallen whole.
        whole_sigmas: f64 = 2.0,
        /// In much noise neither of these limits is more than this share of the fall.
        most_share: f64 = 0.5,
        /// A sample within so many standard deviations of the level before may still be before the onset.
        noise_sigmas: f64 = 1.5,
        /// A sample that has lost this share of the fall lies in it and spoils the level before.
        in_fall_share: f64 = 0.2,
        /// A slow fall is told from this share of it to what is left of it: the usual 10 to 90 %.
        slow_ends_share: f64 = 0.1,
        /// A sample is certainly before a slow fall if it has lost no more than this share of it.
        slow_first_share: f64 = 0.02,
        /// Fewest samples of a level that tell how fast the pressure rises, where no volume does.
        pace_samples: usize = 5,
    }
}
