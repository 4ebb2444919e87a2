//! The line: tube, stopcock and inflator, a little elastic, with a little trapped air.

/// Tube, stopcock and inflator up to the balloon's neck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Elastic compliance C, mL/kPa.
    pub compliance_ml_per_kpa: f64,
    /// Trapped air V_air at ambient pressure, mL.
    pub trapped_air_ml: f64,
    /// Ambient (absolute) pressure, kPa.
    pub ambient_kpa: f64,
    /// Pressure lost between inflator and balloon for a flow of 1 mL/s (laminar), kPa s/mL.
    pub resistance_kpa_s_per_ml: f64,
    /// Inertia of the fluid in the line against the give of the transducer's port; none where it is damped out.
    pub ringing: Option<Ringing>,
}

/// The reading swings about the pressure in the balloon after a jump: fluid of inertance I in the line moves against the capacity C at the
/// transducer, `f = 1/(2π sqrt(I C))`, damped by the line's resistance, `ζ = (R/2) sqrt(C/I)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ringing {
    /// Natural frequency f, Hz.
    pub hz: f64,
    /// Damping ratio ζ, 1 for no swing at all.
    pub damping: f64,
}

impl Line {
    /// Volume the line takes up at gauge pressure `p` (kPa, above −ambient), mL: `C p + V_air p / (p + p_ambient)`
    /// (Hookean tube; air by Boyle's law).
    pub fn volume(&self, p: f64) -> f64 {
        self.compliance_ml_per_kpa * p + self.trapped_air_ml * p / (p + self.ambient_kpa)
    }

    /// dV/dp at gauge pressure `p` (kPa), mL/kPa: `C + V_air p_ambient / (p + p_ambient)²`.
    pub fn capacity(&self, p: f64) -> f64 {
        self.compliance_ml_per_kpa
            + self.trapped_air_ml * self.ambient_kpa / (p + self.ambient_kpa).powi(2)
    }
}
