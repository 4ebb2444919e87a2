//! Thresholds of `src/judge/outcome.rs` and of the onset of yield.

thresholds! {
    /// The outcome of a run.
    pub struct Outcome {
        /// Slowest sampling at which the speed of a fall can be told, s between samples: three time constants of a line (8 ms).
        speed_told_step_s: f64 = 0.025,
        /// Confidence of what the eye alone tells, as of a fracture that no trace shows (an estimate of ours): a broken frame is plain to
        /// see, its time is not known.
        seen_confidence: f64 = 0.9,
        /// Confidence of a yield event: a break of two straight lines through few points, no sharp edge (an estimate of ours).
        yield_confidence: f64 = 0.6,
    }
}
