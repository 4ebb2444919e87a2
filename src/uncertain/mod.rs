//! Numbers with their standard uncertainty, and the budgets they come from.
//!
//! [`Quantity`] is what a report carries; [`Budget`] lists where its uncertainty comes from (JCGM 100:2008, "GUM"); [`propagate`]
//! and [`product`] carry uncertainty through a formula, [`monte_carlo`] by trials (JCGM 101:2008).

mod budget;
mod budgeted;
mod draw;
mod median;
mod monte_carlo;
mod parts;
mod propagate;
mod quantity;

pub use budget::{Budget, COVERAGE, Component, Distribution, StatedBudget, widened};
pub use budgeted::Budgeted;
pub use draw::Draws;
pub use median::u_of_median;
pub use monte_carlo::{
    Common, Input, LEAST_TRIALS, MOST_TRIALS, MonteCarlo, Trials, monte_carlo, monte_carlo_of,
};
pub use parts::{less, root_of_variance};
pub use propagate::{Propagated, product, propagate};
pub use quantity::Quantity;
