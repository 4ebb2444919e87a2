//! Numbers with their standard uncertainty, and the budgets they come from.

mod quantity;

pub use quantity::Quantity;
