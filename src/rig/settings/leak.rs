//! Thresholds of `src/detect/leak.rs`.

thresholds! {
    /// Leaks at rest.
    pub struct Leak {
        /// Shortest rest that tells a leak from noise, s.
        shortest_s: f64 = 0.25,
        /// A long rest, s: here it must not slow down.
        long_s: f64 = 1.0,
        /// The ends of a rest may still move, s: the half window that motion is told by.
        ends_s: f64 = 0.15,
        /// Frames relax with this time constant and slower ones, s (polymers and metals, common practice, no source), every ratio being as
        /// likely.
        relaxes_fastest_s: f64 = 0.2,
        /// Frames relax with this time constant and faster ones, s.
        relaxes_slowest_s: f64 = 20.0,
        /// A leak slows down as well where the capacity of line and balloon grows with the pressure it loses: by up to so many times its
        /// relative loss a second, every value being as likely.
        slows_with_loss_ratio: f64 = 1.5,
        /// A leak may seem to slow down or quicken by this much, 1/s: what drift makes of it.
        slows_least_per_s: f64 = 0.01,
        /// Share of its pressure that a frame that creeps much loses in a second.
        creeps_share_per_s: f64 = 0.03,
        /// A leak of a multiple of that is this power of it more likely.
        loss_power: f64 = 3.0,
        /// The size of the loss says no more than this: holes are of every size.
        loss_sure_log_odds: f64 = 2.0,
        /// No comparison says more than this.
        sure_log_odds: f64 = 6.0,
        /// Against a hold, where only noise counts, a comparison says up to this.
        hold_sure_log_odds: f64 = 12.0,
        /// A leak loses at least this share of the pressure over the last long rest: less cannot be told from drift and creep.
        lost_share: f64 = 0.01,
        /// A rest belongs to the leak if it loses this share of what the last one does.
        onset_share: f64 = 0.3,
        /// What is lost must stand out of the noise of a sample by so many standard deviations.
        lost_sigmas: f64 = 6.0,
        /// The pace of the loss must stand out of its own uncertainty by so many standard uncertainties.
        loss_sigmas: f64 = 5.0,
        /// A leaking rest begins at this share of its highest pressure or more.
        top_share: f64 = 0.85,
        /// The pressure a rest begins and ends at is the median of this share of it.
        tips_share: f64 = 0.1,
        /// Pressures below this share of the highest are not looked at.
        low_share: f64 = 0.05,
        /// A rest begins so many samples behind a sudden fall in it.
        after_fall_samples: usize = 2,
        /// The pressure of a leak is the median of a sample and so many on either side.
        beside_samples: usize = 2,
    }
}
