//! Numbers with their standard uncertainty, and the budgets they come from.
//!
//! [`Quantity`] is what a report carries; [`Budget`] lists where its uncertainty comes from (JCGM 100:2008, "GUM"); [`propagate`]
//! and [`product`] carry uncertainty through a formula.

mod budget;
mod propagate;
mod quantity;

pub use budget::{Budget, Component, Distribution};
pub use propagate::{Propagated, product, propagate};
pub use quantity::Quantity;
