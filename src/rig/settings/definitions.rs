//! Thresholds of `src/detect/definitions.rs`.

thresholds! {
    /// The pressure of a break by every definition.
    pub struct Definitions {
        /// The maximum is looked for in this time before the onset, s.
        before_s: f64 = 0.1,
        /// Samples that tell the pressure at the end of a hold.
        end_of_hold_samples: usize = 5,
        /// The flow at the onset is told from this time before it, s.
        flow_s: f64 = 0.05,
    }
}
