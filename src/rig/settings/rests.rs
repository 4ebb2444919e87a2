//! Thresholds of `src/segment/rests.rs`.

thresholds! {
    /// Quasi-static points.
    pub struct Rests {
        /// Shortest rest that gives a point, s.
        shortest_s: f64 = 0.2,
        /// The first part of a rest still settles; the point is taken over the rest of it.
        settling_share: f64 = 0.4,
        /// A point is taken over no more than this, s: long holds relax.
        longest_s: f64 = 1.0,
    }
}
