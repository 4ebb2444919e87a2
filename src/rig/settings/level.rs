//! Thresholds of `src/detect/level.rs`.

thresholds! {
    /// The pressure just before an onset.
    pub struct Level {
        /// Share of a pressure extrapolated over clipped samples that is taken as its standard uncertainty.
        extrapolation_u_share: f64 = 0.3,
    }
}
