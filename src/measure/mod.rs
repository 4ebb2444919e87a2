//! From readings to diameters, areas and ring mechanics: pure functions from plain data to quantities with their budgets.
//!
//! | from | to | where |
//! | --- | --- | --- |
//! | caliper or optical readings of one run and stage | mean two-point diameter, ovality | [`caliper`] |
//! | readings of a whole study | those that stand off their repeats or their ring | `slip.rs` |
//! | plug gauges | lower bound and estimate of the largest inscribed diameter | [`plug`] |
//! | traced outline | area, perimeter, D_A, D_P, two-point diameters, largest inscribed circle | [`section`] |
//! | gap of a broken ring | gap, material, bore of the opened ring | `open_ring.rs` |
//! | traced outline | circles and ellipses of least squares, with what the points stand off | `outline_fits.rs` |
//! | points | circle, ellipse, polygon, jaws, smooth curve | [`geometry`] |
//! | diameters before, loaded, after | set, recoil, recovery, expansion, area gain | [`mechanics`] |
//! | pressure and ring | tension, hoop force, open bore | [`mechanics`] |
//!
//! Three things are called "the diameter" of a frame and are kept apart here. A two-point caliper averages over orientations and
//! cannot see an odd number of lobes: a ring r = 10 + 0.3 cos 3t mm has every two-point diameter 20.00 mm. A plug gauge finds the
//! largest circle inside, 19.40 mm for that ring. An outline gives the area, and 2 √(A/π) is the diameter to set beside a caliper
//! mean; the diameter from the perimeter is larger for any ring that is not round. None is ever averaged with another.
//!
//! Lengths are in mm, areas in mm², pressures in kPa. Uncertainties are standard (k = 1). Nothing here
//! reads files, knows runs apart or prints; doubts come back as [`crate::recording::Finding`]s without a place, which the caller
//! adds.

mod budgets;
pub mod caliper;
mod contradictions;
pub mod geometry;
pub mod mechanics;
mod open_ring;
mod orientation;
mod outline_fits;
pub mod photograph;
pub mod plug;
mod repeatability;
mod scatter;
pub mod section;
mod slip;

pub use caliper::{CaliperMean, GaugeWorth, mean_diameter};
pub use mechanics::{Correlation, DiameterChanges, area_quantity, diameter_changes};
pub use open_ring::OpenRingInput;
pub use plug::{PlugReading, largest_plug, plug_step};
pub use repeatability::{Repeatability, repeatability};
pub use section::{SectionMeasure, measure_contour, measure_outline};
pub use slip::mark_slips;
mod specimen;
mod trials;

pub use specimen::{Specimen, SpecimenInput, specimen};
