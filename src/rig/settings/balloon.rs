//! Thresholds of `src/balloon/growth.rs` and `src/judge/rated_burst.rs`.

thresholds! {
    /// The free balloon and its rating.
    pub struct Balloon {
        /// A balloon that grows by less than this from nominal to rated burst pressure is non-compliant, % of its nominal diameter for an
        /// atmosphere: published non-compliant valvuloplasty balloons grow by 0.15 to 0.31 %/atm (Catheter Cardiovasc Interv 2020;96:E187).
        non_compliant_percent_per_atm: f64 = 0.5,
        /// ... and by more than this is compliant, semi-compliant in between: older compliant balloons grew by 7 to 18 % from 2 to 10 atm,
        /// 0.9 %/atm and more (Am J Cardiol 1986;57:26).
        compliant_percent_per_atm: f64 = 0.9,
        /// Part of the balloons that a rated burst pressure must hold.
        rated_coverage_share: f64 = 0.999,
        /// ... with this confidence.
        rated_confidence: f64 = 0.95,
        /// A rated burst pressure is rounded down to whole steps of this, atm.
        rated_step_atm: f64 = 1.0,
    }
}
