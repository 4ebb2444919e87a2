//! The line of the rig: elastic part plus trapped air.

/// `V_line(p) = C p + V_air p / (p + p_ambient)` with p gauge; the air part is Boyle's law at constant temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineModel {
    /// Elastic compliance, mL/kPa.
    pub compliance_ml_per_kpa: f64,
    /// Volume of the trapped air at ambient pressure, mL.
    pub air_ml: f64,
    /// Ambient pressure (absolute), kPa.
    pub ambient_kpa: f64,
}

impl LineModel {
    /// Volume taken up by the line at a gauge pressure (kPa), mL. Below vacuum the air part is held at its limit.
    pub fn volume_ml(&self, pressure_kpa: f64) -> f64 {
        let p = pressure_kpa.max(-0.95 * self.ambient_kpa);
        self.compliance_ml_per_kpa * p + self.air_ml * p / (p + self.ambient_kpa)
    }

    /// Slope of that volume, mL/kPa: the capacity of the line at a gauge pressure (kPa).
    pub fn capacity_ml_per_kpa(&self, pressure_kpa: f64) -> f64 {
        let p = pressure_kpa.max(-0.95 * self.ambient_kpa);
        self.compliance_ml_per_kpa + self.air_ml * self.ambient_kpa / (p + self.ambient_kpa).powi(2)
    }
}
