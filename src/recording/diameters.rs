//! What the frame of a run measures: diameters, areas, and the gap of an open ring.

use super::SurrogateRange;
use crate::uncertain::Quantity;
use serde::Serialize;
use std::collections::BTreeMap;

/// Diameters of a run, mm, and what follows from them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Diameters {
    /// Mean diameter before.
    pub before: Quantity,
    /// Mean diameter on the inflated balloon at the end of the last hold.
    pub loaded: Quantity,
    /// Mean diameter after.
    pub after: Quantity,
    /// Diameter at the first event.
    pub at_event: Quantity,
    /// after − before, mm.
    pub set: Quantity,
    /// (after − before) / before.
    pub set_ratio: Quantity,
    /// (loaded − after) / loaded.
    pub recoil: Quantity,
    /// (loaded − after) / (loaded − before).
    pub recovery: Quantity,
    /// (loaded − before) / before.
    pub expansion: Quantity,
    /// When "after" was measured.
    pub after_measured: String,
    /// A ring that is open after the run has no single inner diameter: its gap and its material.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub open_ring: Option<OpenRing>,
    /// Amplitude of the wave with three lobes of the outline, mm, by stage.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub three_lobe_amplitude: BTreeMap<String, Quantity>,
    /// Circles and ellipses through the points of the outline, by stage; inside, by the name of the fit: `circle_algebraic`, `circle_hyper`,
    /// `circle_geometric`, `ellipse_direct`, `ellipse_geometric`.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub outline_fits: BTreeMap<String, BTreeMap<String, OutlineFit>>,
    /// Every method apart: `caliper`, `plug`, `optical`, `outline_area`, `outline_perimeter`, `outline_circle`, `largest_inscribed`, `photograph_area`, ...;
    /// inside, by stage.
    pub by_method: BTreeMap<String, BTreeMap<String, Quantity>>,
}

/// A circle or ellipse of least squares through the points of an outline: beside the diameters of the frame, never one of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OutlineFit {
    /// Diameter of the circle, or the longest of the ellipse, mm.
    pub largest_diameter: Quantity,
    /// The shortest of the ellipse, mm; `None` for a circle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub smallest_diameter: Option<Quantity>,
    /// Root mean square of the distances from the points to it, mm.
    pub rms_residual: Quantity,
}

/// A broken ring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OpenRing {
    /// Width of the gap, mm: as stated, else the chord of the outline.
    pub gap: Quantity,
    /// Chord of the outline over its gap, mm.
    pub gap_chord: Quantity,
    /// Length of the inner edge that has material, mm.
    pub material_arc: Quantity,
    /// Wall of the frame, mm.
    pub wall: Quantity,
    /// Bore of the opened ring if its neutral line kept its length, mm.
    pub bore_from_neutral_arc: Quantity,
}

/// Geometric areas, mm²: π D²/4 of the mean diameter, never an effective area.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Areas {
    /// Before.
    pub before: Quantity,
    /// On the inflated balloon.
    pub loaded: Quantity,
    /// After.
    pub after: Quantity,
    /// (after / before) − 1.
    pub gain: Quantity,
    /// What the bore might be worth as an orifice, cm², at stages without a flow record: never an effective area.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub surrogate: BTreeMap<String, SurrogateRange>,
}
