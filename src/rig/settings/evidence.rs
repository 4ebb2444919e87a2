//! Thresholds of `src/detect/evidence/`; keys of one witness begin with its name.

thresholds! {
    /// What speaks for and against each kind of a fall.
    pub struct Evidence {
        /// No witness says more than this: one error in fifty that its model does not know of.
        sure_log_odds: f64 = 4.0,
        /// Log-odds below which a witness says nothing either way: less than five to four.
        either_way_log_odds: f64 = 0.2,
        /// Log-odds against what passed every test of a fall being none of the three, by proof on simulated runs with a volume counter: one
        /// of four hundred.
        nothing_with_volume_log_odds: f64 = 6.0,
        /// Log-odds against it where a hand is not seen: it is so more often.
        nothing_without_volume_log_odds: f64 = 4.6,
        /// The clock of another recorder counts with so many standard uncertainties: 95 % of a normal distribution.
        clock_sigmas: f64 = 2.0,
        /// Levels of another channel before and after the onset are taken over this time, s.
        step_level_s: f64 = 0.1,
        /// Fewest samples of such a level.
        step_level_least_samples: usize = 2,
        /// Beyond the interval of the onset a frame opens within this time, s.
        step_opening_s: f64 = 0.1,
        /// The usual step of another channel is told from so many places of the run at least.
        step_places_least: usize = 20,
        /// A misjudged stiffness is taken as normal, with what the threshold allows for it as so many standard deviations.
        size_volume_sigmas: f64 = 2.0,
        /// So much more of the fall within a snap's time makes a snap more likely by a factor e: what noise and the ends of the time looked
        /// at make of that share.
        pace_e_share: f64 = 0.05,
        /// The least the pace says: a fall that is on one side of the limit is on that side.
        pace_least_log_odds: f64 = 0.5,
        /// On a slow clock the time between two samples is longer than a snap and as long as a slip: the pace is so much less sure.
        pace_slow_clock_share: f64 = 0.5,
        /// A pressure rebuilt to this share of the one before means that the balloon holds.
        left_rebuilt_share: f64 = 0.25,
        /// What is left counts as nothing within so many standard deviations of the noise.
        left_nothing_sigmas: f64 = 6.0,
        /// What is left after a fall shows within this time, s.
        left_settling_s: f64 = 0.3,
        /// Against a burst what is left says so many times `sure_log_odds`: it decides whatever the pace says.
        left_decides_ratio: f64 = 3.0,
        /// Volume comes out from so many standard deviations of the counter.
        volume_out_sigmas: f64 = 3.0,
        /// Log-odds for no event where volume came out: a fall far larger than a withdrawal explains may still be one in part.
        volume_withdrawn_log_odds: f64 = 2.0,
        /// An opening counts from so many times the usual step of the diameter: its weight grows from nothing there.
        diameter_opens_sigmas: f64 = 4.0,
        /// Log-odds against a break where the camera sees no opening: one break in seven opens out of its sight (chosen, no source).
        diameter_not_seen_log_odds: f64 = 2.0,
        /// A change of the force counts from so many times the usual step.
        force_felt_sigmas: f64 = 4.0,
        /// Log-odds against an event where nothing is felt: the cell may sit beside the way of the force (chosen, no source).
        force_not_felt_log_odds: f64 = 1.0,
        /// Sound counts if it comes this near to the onset, s: the skew of two clocks of one recorder.
        sound_near_s: f64 = 0.05,
        /// Length of a window of sound, s: a bang dies away within it.
        sound_window_s: f64 = 0.03,
        /// The run is listened to in so many windows at least.
        sound_windows_least: usize = 50,
        /// Log-odds against a bang where nothing is heard: three in ten breaks are not heard (chosen, no source).
        sound_not_heard_log_odds: f64 = 1.2,
        /// A recording that ends so soon after the fall says little of what came after, s.
        recording_ends_s: f64 = 1.0,
    }
}
