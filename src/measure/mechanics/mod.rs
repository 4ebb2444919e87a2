//! Mechanics of a ring under pressure, and what its diameters before, under load and after say.
//!
//! Units are coherent: kPa × mm = N/m, so a tension in N/mm is p D/2 divided by 1000.

mod change;
mod ring;
mod wall;

pub use change::{Correlation, DiameterChanges, area_budget, area_quantity, diameter_changes};
pub use ring::{open_ring_bore, ring_force, tension};
pub use wall::Wall;
