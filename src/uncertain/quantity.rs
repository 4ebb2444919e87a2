//! A result as it travels: value, standard uncertainty, unit, method.

use serde::Serialize;

/// A reported number.
///
/// `value` and `u` are in `unit`; `u` is the standard uncertainty (k = 1). Where either is missing it is `None`, never 0, and
/// `reason` says why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quantity {
    /// The value, in `unit`; `None` where it could not be had.
    pub value: Option<f64>,
    /// The standard uncertainty (k = 1), in `unit`; `None` where unknown.
    pub u: Option<f64>,
    /// Unit symbol; `1` for a pure number.
    pub unit: String,
    /// How the value was obtained.
    pub method: String,
    /// Why the value or its uncertainty is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

impl Quantity {
    /// A value with its standard uncertainty. A value that is not finite, or an uncertainty that is not positive and finite,
    /// becomes a missing one with a reason, so that no report ever shows `NaN` or a zero uncertainty.
    pub fn known(value: f64, u: f64, unit: &str, method: impl Into<String>) -> Self {
        let mut quantity = Self {
            value: Some(value),
            u: Some(u),
            unit: unit.to_owned(),
            method: method.into(),
            reason: None,
        };
        if !value.is_finite() {
            quantity.value = None;
            quantity.u = None;
            quantity.reason = Some("the computation gave no finite value".to_owned());
        } else if !(u.is_finite() && u > 0.0) {
            quantity.u = None;
            quantity.reason = Some("the uncertainty could not be estimated".to_owned());
        }
        quantity
    }

    /// A value whose uncertainty is not known, with the reason.
    pub fn without_u(
        value: f64,
        unit: &str,
        method: impl Into<String>,
        reason: impl Into<String>,
    ) -> Self {
        let mut quantity = Self::known(value, f64::NAN, unit, method);
        if quantity.value.is_some() {
            quantity.reason = Some(reason.into());
        }
        quantity
    }

    /// A value that could not be had, with the reason.
    pub fn missing(unit: &str, reason: impl Into<String>) -> Self {
        Self {
            value: None,
            u: None,
            unit: unit.to_owned(),
            method: "none".to_owned(),
            reason: Some(reason.into()),
        }
    }

    /// Value and standard uncertainty, where both are known.
    pub fn pair(&self) -> Option<(f64, f64)> {
        Some((self.value?, self.u?))
    }
}
