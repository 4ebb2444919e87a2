//! The normal distribution of a strength. Many small additions.

use super::super::normal_family::Normal;
use super::{ParameterForm, StrengthModel};

/// Mean `μ` and standard deviation `σ` (with `n`, not `n - 1`, where nothing is censored).
pub const NORMAL: StrengthModel = StrengthModel {
    name: "normal",
    logarithmic: false,
    location: ParameterForm {
        name: "mean",
        has_unit: true,
        of: |mu| mu,
        slope: |_| 1.0,
    },
    spread: ParameterForm {
        name: "sd",
        has_unit: true,
        of: |sigma| sigma,
        slope: |_| 1.0,
    },
    standard: &Normal,
};
