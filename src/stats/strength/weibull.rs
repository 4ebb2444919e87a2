//! The Weibull distribution `F(x) = 1 - exp(-(x/scale)^shape)`, whose logarithm has the smallest extreme value distribution.

use super::super::smallest_extreme::SmallestExtreme;
use super::{ParameterForm, StrengthModel};

/// Scale `exp μ` (the 63.2 % quantile) and shape `1/σ`. Weakest link of many alike.
pub const WEIBULL: StrengthModel = StrengthModel {
    name: "Weibull",
    logarithmic: true,
    location: ParameterForm {
        name: "scale",
        has_unit: true,
        of: f64::exp,
        slope: f64::exp,
    },
    spread: ParameterForm {
        name: "shape",
        has_unit: false,
        of: |sigma| 1.0 / sigma,
        slope: |sigma| -1.0 / (sigma * sigma),
    },
    standard: &SmallestExtreme,
};
