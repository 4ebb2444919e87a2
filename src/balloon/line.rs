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
    /// Variances of compliance ((mL/kPa)²) and air (mL²), and their covariance (mL²/kPa), by the scatter about the fit and the zero of the
    /// pressure; what gains of the channels do is not in them.
    pub covariance: [f64; 3],
}

impl LineModel {
    /// The line with compliance and air moved by two standard normal numbers, as their covariance has it.
    #[must_use]
    pub fn drawn(&self, z: [f64; 2]) -> Self {
        let [var_c, var_air, both] = self.covariance;
        let of_c = var_c.max(0.0).sqrt();
        let along = if of_c > 0.0 { both / of_c } else { 0.0 };
        let across = (var_air - along * along).max(0.0).sqrt();
        Self {
            compliance_ml_per_kpa: self.compliance_ml_per_kpa + of_c * z[0],
            air_ml: self.air_ml + along * z[0] + across * z[1],
            ..*self
        }
    }

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
