//! Thresholds of `src/detect/stiffness.rs`.

thresholds! {
    /// Stiffness of line, balloon and frame together.
    pub struct Stiffness {
        /// Span of the increments, s: long against the noise of a sample, short against a stroke.
        span_s: f64 = 0.1,
        /// The span has so many looks of a slow clock at least: in one of them a slow stroke moves no more than the noise of its counter.
        span_least_looks: usize = 2,
        /// The stiffness remembers so much moved volume, mL: about one half turn of an inflator.
        memory_ml: f64 = 0.25,
        /// An increment is forgotten when so little of it is left: after half a millilitre that told nothing, most of it a withdrawal, line
        /// and balloon are at another pressure.
        forgotten_share: f64 = 0.135,
        /// An increment of more volume counts as much as one of so much, mL: a fifth of the memory.
        longest_increment_ml: f64 = 0.05,
        /// An increment of volume counts from so many standard deviations of its noise.
        increment_sigmas: f64 = 4.0,
        /// A fall while volume goes in is one from so many standard deviations of the difference of two looks.
        fall_sigmas: f64 = 2.0,
        /// Nothing is stiffer than so many times the line alone: a tenth more allows for the uncertainty of the line.
        line_ratio: f64 = 1.1,
    }
}
