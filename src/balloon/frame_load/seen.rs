//! A diameter of the frame with what its uncertainty does to the load.

/// Diameter at a rest. What moves it often moves the free balloon too: the load hangs on how far apart the two are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seen {
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Its standard uncertainty, mm; 0 where it was not asked for.
    pub u_diameter_mm: f64,
    /// What of that is its own, apart from all other diameters, mm.
    pub own_mm: f64,
    /// Standard uncertainty of the diameter less that of the free balloon, mm.
    pub u_apart_mm: f64,
    /// Covariance of the two, mm².
    pub both_mm2: f64,
}

impl Seen {
    /// A diameter that errs by itself, by `u_mm`, of which `own_mm` is apart from all other diameters; what that of the free balloon errs by,
    /// `u_free_mm`, is another matter (mm).
    pub fn by_itself(diameter_mm: f64, u_mm: f64, own_mm: f64, u_free_mm: f64) -> Self {
        Self {
            diameter_mm,
            own_mm,
            u_diameter_mm: u_mm,
            u_apart_mm: u_mm.hypot(u_free_mm),
            both_mm2: u_mm * u_mm,
        }
    }

    /// A diameter that each input moves by so much, and the free balloon by so much (mm, standard deviations); its own volume by `own_mm`.
    pub fn moved_by(
        diameter_mm: f64,
        own_mm: f64,
        inputs: impl Iterator<Item = (f64, f64)>,
    ) -> Self {
        let (mut own, mut apart, mut both) = (0.0, 0.0, 0.0);
        for (by, free_by) in inputs.chain(std::iter::once((own_mm, 0.0))) {
            own += by * by;
            apart += (by - free_by) * (by - free_by);
            both += by * (by - free_by);
        }
        Self {
            diameter_mm,
            u_diameter_mm: own.sqrt(),
            own_mm: own_mm.abs(),
            u_apart_mm: apart.sqrt(),
            both_mm2: both,
        }
    }
}
