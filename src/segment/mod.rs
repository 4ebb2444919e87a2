//! What the operator did, from the moved volume (or, without a volume channel, from the pressure).
//!
//! Smoothing is allowed here and only here: a phase boundary is a matter of tenths of a second. Edges are the detector's.

mod ends;
mod motion;
mod phases;
mod rests;
mod sums;

pub use motion::{Motion, State, Stretch};
pub use phases::segment;
pub use rests::{Rest, rests};
pub(crate) use sums::{BlockSums, Carried, Pair, less, plus, shift_for};
