//! Thresholds of `src/balloon/relaxation/`.

thresholds! {
    /// Relaxation in holds.
    pub struct Relaxation {
        /// The first part of a hold belongs to the stroke before: the line settles, s.
        skip_s: f64 = 0.5,
        /// Shortest stretch of a hold after that in which models are told apart, s: a usual time constant of a frame.
        shortest_s: f64 = 8.0,
        /// Holds that begin below this are no load, kPa.
        least_kpa: f64 = 50.0,
        /// The longest holds of a run are looked at, so many at most: fits take time (a few milliseconds a hold), and short holds tell less.
        most_holds: usize = 1,
    }
}
