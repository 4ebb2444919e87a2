//! Thresholds of `src/detect/pressure_only.rs`.

thresholds! {
    /// Falls of a recording without a volume channel.
    pub struct PressureOnly {
        /// Time looked at before and after a fall, s.
        look_s: f64 = 0.25,
        /// A rise as fast as a snap that takes back this share of a fall is the second half of a knock.
        taken_back_share: f64 = 0.5,
        /// A fall that is mostly the second half of a knock upwards was preceded by a rise of this share of it, as fast.
        sprung_share: f64 = 0.6,
        /// A fall that loses this share within `falls.snap_s` is faster than a hand, whatever came before.
        slip_alone_share: f64 = 0.3,
        /// A slip comes while the pressure rises: by this share of the fall.
        rising_share: f64 = 0.08,
        /// A slip comes while the pressure rises: by so many standard deviations of a block.
        rising_sigmas: f64 = 4.0,
        /// A slip comes while the pressure rises: over this time before, s.
        rising_s: f64 = 0.5,
        /// What goes on falling is a hand or a hole: it is looked at again so long after a slip, s.
        later_s: f64 = 0.3,
        /// After a slip no more than this share of it is lost again.
        later_share: f64 = 0.5,
    }
}
