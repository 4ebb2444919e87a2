//! Thresholds of `src/detect/onset.rs`.

thresholds! {
    /// When a fall began.
    pub struct Onset {
        /// Share of the likelihood inside the interval of the onset.
        inside_share: f64 = 0.95,
        /// The onset is good to this share of the time the fall takes: half of what lies between a fall that begins at once and one that
        /// begins smoothly.
        shape_time_share: f64 = 0.1,
        /// The model is good to this share of the loss it says.
        shape_share: f64 = 0.15,
        /// Shortest length of a fall looked at, as a share of a step of the clock.
        shortest_step_share: f64 = 0.01,
        /// A snap takes no longer than so many times `falls.snap_s`, within which it loses nearly all of its pressure.
        longest_snaps: f64 = 2.0,
        /// A shape that is off is off for a good part of the fall: so many samples on it tell, the others only say the same again.
        telling_samples: f64 = 4.0,
        /// Where more lie on the fall, its length is looked for from so many times the time they take.
        resolved_least_ratio: f64 = 0.5,
        /// Where more lie on the fall, its length is looked for up to so many times the time they take.
        resolved_most_ratio: f64 = 3.0,
    }
}
