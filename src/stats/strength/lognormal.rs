//! The lognormal distribution: the logarithm of the strength is normal.

use super::super::normal_family::Normal;
use super::{ParameterForm, StrengthModel};

/// Median `exp μ` and standard deviation `σ` of the natural logarithm. Many small factors.
pub const LOGNORMAL: StrengthModel = StrengthModel {
    name: "lognormal",
    logarithmic: true,
    location: ParameterForm {
        name: "median",
        has_unit: true,
        of: f64::exp,
        slope: f64::exp,
    },
    spread: ParameterForm {
        name: "sd of logarithms",
        has_unit: false,
        of: |sigma| sigma,
        slope: |_| 1.0,
    },
    standard: &Normal,
};
