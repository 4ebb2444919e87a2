//! Thresholds of `src/detect/definitions.rs`.

thresholds! {
    /// The pressure of a break by every definition.
    pub struct Definitions {
        /// The maximum is looked for in this time before the onset, s.
        before_s: f64 = 0.1,
        /// Samples that tell the pressure at the end of a hold.
        end_of_hold_samples: usize = 5,
        /// The flow at the onset is told from this time before it, s.
        flow_s: f64 = 0.05,
        /// Where the rig declares no resistance of its line and the transducer is not on the balloon's side, one between nothing and this is
        /// assumed, kPa s/mL: water through 1.1 m of a bore of 1.7 mm (Hagen-Poiseuille, 128 μ L/(π d⁴)).
        assumed_resistance_kpa_s_per_ml: f64 = 5.0,
    }
}
