//! The balloon: unfolds at next to no pressure, then grows slowly.

/// A dilation balloon.
///
/// Free diameter of the unfolded wall: `D(p) = D0 + a (1 − exp(−p/p1)) + c p` (folds pressed out, then growth of the wall).
/// Unfolding: a share `u(p) = 1 − exp(−p/pu)` of the full section is filled at pressure `p`.
#[derive(Debug, Clone, PartialEq)]
pub struct Balloon {
    /// Unfolded diameter D0, mm.
    pub unfolded_diameter_mm: f64,
    /// Diameter gained as folds press out, a, mm.
    pub seating_mm: f64,
    /// Pressure scale of that gain, p1, kPa.
    pub seating_kpa: f64,
    /// Growth c, mm/kPa.
    pub growth_mm_per_kpa: f64,
    /// Pressure scale of unfolding, pu, kPa.
    pub unfolding_kpa: f64,
    /// Length of the cylinder, mm.
    pub working_length_mm: f64,
    /// Volume of both cones, mL.
    pub cone_volume_ml: f64,
    /// Volume of the folded balloon, mL.
    pub folded_volume_ml: f64,
    /// Volume that creeps in at constant pressure, mL/kPa.
    pub creep_ml_per_kpa: f64,
    /// Time of that creep, s.
    pub creep_time_s: f64,
    /// Pressure at which this balloon bursts, kPa.
    pub burst_kpa: f64,
}

/// One mm³ in mL.
const ML_PER_MM3: f64 = 1e-3;

impl Balloon {
    /// Diameter of the unfolded wall at gauge pressure `p` (kPa), mm.
    pub fn full_diameter(&self, p: f64) -> f64 {
        let p = p.max(0.0);
        self.unfolded_diameter_mm
            + self.seating_mm * (1.0 - (-p / self.seating_kpa).exp())
            + self.growth_mm_per_kpa * p
    }

    /// Share of the full section that is filled at `p` (kPa).
    pub fn unfolded_share(&self, p: f64) -> f64 {
        1.0 - (-p.max(0.0) / self.unfolding_kpa).exp()
    }

    /// Diameter of the circle of equal section at `p` (kPa), mm: what a ring around the balloon meets.
    pub fn wall_diameter(&self, p: f64) -> f64 {
        self.full_diameter(p) * self.unfolded_share(p).sqrt()
    }

    /// Volume of the free balloon at `p` (kPa), mL.
    pub fn volume_free(&self, p: f64) -> f64 {
        let wall = self.wall_diameter(p);
        self.folded_volume_ml
            + self.cone_volume_ml * self.unfolded_share(p)
            + std::f64::consts::FRAC_PI_4 * wall * wall * self.working_length_mm * ML_PER_MM3
    }

    /// Volume at `p` (kPa) with a waist of `waist_mm` over `length_mm`, mL: the free volume less the missing shell
    /// `π/4 (D(p)² − waist²) (length + shoulder (D(p) − waist))`. A shoulder at 45° is as long as it is high, `(D − waist)/2` at either end,
    /// and misses half of the shell there: `shoulder` is 1/2.
    pub fn volume_waisted(&self, p: f64, waist_mm: f64, length_mm: f64, shoulder: f64) -> f64 {
        let wall = self.wall_diameter(p);
        let waist = waist_mm.min(wall);
        self.volume_free(p)
            - std::f64::consts::FRAC_PI_4
                * (wall * wall - waist * waist)
                * (length_mm + shoulder * (wall - waist))
                * ML_PER_MM3
    }
}
