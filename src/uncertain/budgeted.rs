//! A figure with what its uncertainty is made of.

use super::{Budget, Quantity, StatedBudget};

/// A figure and its budget, if it has one.
#[derive(Debug, Clone, PartialEq)]
pub struct Budgeted {
    /// The figure.
    pub quantity: Quantity,
    /// What its uncertainty is made of; empty where it has none.
    pub budget: Budget,
}

impl Budgeted {
    /// A value whose standard uncertainty is that of its budget, in the unit of the value.
    pub fn known(value: f64, budget: Budget, unit: &str, method: impl Into<String>) -> Self {
        Self {
            quantity: budget.quantity(value, unit, method),
            budget,
        }
    }

    /// No figure, and why.
    pub fn missing(unit: &str, reason: impl Into<String>) -> Self {
        Quantity::missing(unit, reason).into()
    }

    /// The budget as results carry it; `None` without an uncertainty.
    pub fn stated(&self) -> Option<StatedBudget> {
        StatedBudget::of(&self.quantity, self.budget.clone())
    }
}

/// A figure without a budget.
impl From<Quantity> for Budgeted {
    fn from(quantity: Quantity) -> Self {
        Self {
            quantity,
            budget: Budget::new(),
        }
    }
}
