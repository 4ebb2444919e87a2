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
    /// Standard uncertainty of the pressure that is in the diameter too, kPa, ...
    pub u_kpa: f64,
    /// ... and its covariance with the diameter and with the diameter less that of the free balloon, mm kPa.
    pub with_kpa: (f64, f64),
}

/// What an input does: by how much it moves the diameter of the frame and that of the free balloon, mm, and the pressure, kPa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Moves {
    pub mm: f64,
    pub free_mm: f64,
    pub kpa: f64,
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
            u_kpa: 0.0,
            with_kpa: (0.0, 0.0),
        }
    }

    /// A diameter that each input moves by so much (standard deviations), and its own volume by `own_mm`.
    pub fn moved_by(diameter_mm: f64, own_mm: f64, inputs: impl Iterator<Item = Moves>) -> Self {
        let itself = Moves {
            mm: own_mm,
            free_mm: 0.0,
            kpa: 0.0,
        };
        let (mut own, mut apart, mut both, mut kpa) = (0.0, 0.0, 0.0, 0.0);
        let mut with_kpa = (0.0, 0.0);
        for by in inputs.chain(std::iter::once(itself)) {
            let off = by.mm - by.free_mm;
            own += by.mm * by.mm;
            apart += off * off;
            both += by.mm * off;
            kpa += by.kpa * by.kpa;
            with_kpa.0 += by.mm * by.kpa;
            with_kpa.1 += off * by.kpa;
        }
        Self {
            diameter_mm,
            u_diameter_mm: own.sqrt(),
            own_mm: own_mm.abs(),
            u_apart_mm: apart.sqrt(),
            both_mm2: both,
            u_kpa: kpa.sqrt(),
            with_kpa,
        }
    }
}
