//! What a load on the frame errs by.

/// What a load errs by, kPa, all independent of each other and, but for the first, of the diameter of the frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LoadErrors {
    /// The diameter, against that of the free balloon, with what the pressure errs by in both.
    pub diameter: f64,
    /// The pressure, where it is not in the diameter.
    pub pressure: f64,
    /// Scatter of the free balloon about its curve.
    pub curve: f64,
    /// What the balloon needs below its unfolded size.
    pub folds: f64,
}

impl LoadErrors {
    /// Standard uncertainty of the load, kPa.
    pub fn combined(self) -> f64 {
        let Self {
            diameter,
            pressure,
            curve,
            folds,
        } = self;
        diameter.hypot(pressure).hypot(curve).hypot(folds)
    }

    /// What it errs by independent of the diameter, each by its name, kPa.
    pub fn beside_the_diameter(self) -> [(&'static str, f64); 3] {
        [
            ("pressure", self.pressure),
            ("scatter about the curve of the free balloon", self.curve),
            ("unfolding of the balloon", self.folds),
        ]
    }
}
