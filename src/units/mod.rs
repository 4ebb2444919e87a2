//! The table of units: how a unit of a file or a rig becomes a bench unit.
//!
//! Bench units are coherent: s, mm, mm², mL, kPa, N, °C (kPa × mL = mJ, kPa × mm² = mN). A unit is declared or written in a
//! header, never guessed from the size of the numbers. Adding a unit is one line in [`UNITS`].

mod table;

pub use table::{Dimension, UNITS, Unit, find, find_any, nearest, split_header};

/// A standard atmosphere, kPa (exact: 10th CGPM, 1954).
pub const KPA_PER_ATM: f64 = 101.325;
