//! Thresholds of `src/balloon/line_air.rs` and `src/balloon/way_down.rs`.

thresholds! {
    /// The line of the rig.
    pub struct Line {
        /// How full of air a line is, is judged from nothing up to this gauge pressure, kPa: where frames begin to break (about 10 atm).
        air_up_to_kpa: f64 = 1000.0,
        /// From this share of the volume taken up on, a line holds some air ("hardly any" below): at 10 atm it changes the capacity of the
        /// line by little more than its uncertainty (an estimate of ours).
        some_air_share: f64 = 0.1,
        /// From this share on it holds much air, and the run is doubted: as much goes into bubbles as into the walls (an estimate of ours).
        much_air_share: f64 = 0.5,
        /// The way down is fitted by itself where it stands off the way up by so many standard uncertainties.
        hysteresis_sigmas: f64 = 2.0,
    }
}
