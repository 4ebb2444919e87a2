//! Thresholds of `src/segment/phases.rs`.

thresholds! {
    /// What the operator did.
    pub struct Phases {
        /// A rest under pressure shorter than this belongs to the strokes around it, s.
        hold_shortest_s: f64 = 1.2,
        /// Motion shorter than this is taken for noise, s.
        motion_shortest_s: f64 = 0.12,
        /// A hand takes longer than this to empty a balloon, a burst does not, s (only where no volume tells).
        emptying_shortest_s: f64 = 0.6,
        /// A deflation withdraws at least this much, or leaves next to no pressure, mL.
        emptied_ml: f64 = 1.0,
        /// Below this share of the highest pressure the balloon is still being filled.
        fill_share: f64 = 0.08,
        /// More than this goes in while a balloon is filled, and less into a blank line, mL.
        filled_ml: f64 = 4.0,
        /// A withdrawal in the middle of a run counts from this share of the highest pressure lost.
        refill_share: f64 = 0.02,
        /// A withdrawal in the middle of a run counts from this volume too, mL.
        refill_ml: f64 = 0.02,
        /// The pressure a recording starts with is the median of so many samples, or of those before the first motion.
        start_samples: usize = 25,
    }
}
