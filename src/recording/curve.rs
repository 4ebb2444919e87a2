//! A curve of the results.

use serde::Serialize;

/// A fitted or measured curve: equally long lists, those not applicable empty.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Curve {
    /// Gauge pressure, kPa.
    pub pressure_kpa: Vec<f64>,
    /// Diameter, mm.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub diameter_mm: Vec<f64>,
    /// Lower limit of a new reading of the diameter ([`Self::READING_CONFIDENCE`]), mm; of a free balloon, where its diameters scatter.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reading_low_mm: Vec<f64>,
    /// Upper limit of a new reading, mm.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reading_high_mm: Vec<f64>,
    /// Volume, mL.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub volume_ml: Vec<f64>,
    /// Ring force, N.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub force_n: Vec<f64>,
}

impl Curve {
    /// Confidence with which a new reading lies within its limits.
    pub const READING_CONFIDENCE: f64 = 0.95;
}
