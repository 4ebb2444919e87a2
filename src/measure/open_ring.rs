//! A broken ring is open: it has a gap and an arc of material, and no inner diameter by itself.

use super::mechanics::open_ring_bore;
use super::section::Gap;
use crate::recording::{FrameRow, Inspection, ObservationRow, OpenRing, Stage};
use crate::uncertain::{Quantity, propagate};

/// Name of the observation that states a gap.
const GAP: &str = "gap of the broken ring";

/// What is known of a ring that may be open.
#[derive(Debug, Clone, Copy)]
pub struct OpenRingInput<'a> {
    /// Observations of the run.
    pub observations: &'a [ObservationRow],
    /// What the eye saw.
    pub inspection: Option<Inspection>,
    /// The frame as listed.
    pub frame: Option<&'a FrameRow>,
}

/// Whether the frame after the run is an open ring, and what can be told of it. `outline` is the gap of the outline after, `before`
/// the bore before.
pub(super) fn open_ring(
    input: &OpenRingInput<'_>,
    outline: Option<&Gap>,
    before: &Quantity,
) -> Option<OpenRing> {
    let stated = input.observations.iter().find(|o| {
        o.name == GAP && o.stage.is_none_or(|stage| stage == Stage::After) && !o.says_none()
    });
    let length = stated
        .and_then(|o| o.quantity.as_ref())
        .filter(|gap| gap.unit == "mm");
    // An outline may lack points for other reasons: on a frame found whole its gap is no break.
    let outline = outline.filter(|_| input.inspection != Some(Inspection::Intact));
    if stated.is_none() && outline.is_none() {
        return None;
    }
    let wall = wall(input.frame);
    let gap = match (length, outline) {
        (Some(gap), _) => Quantity {
            method: "stated in the observations".to_owned(),
            ..gap.clone()
        },
        (None, Some(gap)) => gap.chord.clone(),
        (None, None) => Quantity::missing("mm", "the observation states no length of the gap"),
    };
    let none = |what: &str| Quantity::missing("mm", format!("no outline after shows the {what}"));
    Some(OpenRing {
        bore_from_neutral_arc: bore(before, &wall, &gap),
        gap_chord: outline.map_or_else(|| none("gap"), |o| o.chord.clone()),
        material_arc: outline.map_or_else(|| none("gap"), |o| o.material_arc.clone()),
        gap,
        wall,
    })
}

/// Wall from the diameters listed: half of outer less inner. The true inner diameter goes before that of the bare frame.
fn wall(frame: Option<&FrameRow>) -> Quantity {
    let outer = frame.and_then(|f| f.outer_diameter_mm);
    let inner = frame.and_then(|f| f.true_id_mm.or(f.stent_id_mm));
    match (outer, inner) {
        (Some(outer), Some(inner)) if outer > inner => Quantity::without_u(
            (outer - inner) / 2.0,
            "mm",
            "(outer − inner diameter)/2 as listed in frames.csv",
            "the frame list states no uncertainty",
        ),
        (Some(_), Some(_)) => Quantity::missing(
            "mm",
            "the listed outer diameter is not larger than the inner one",
        ),
        _ => Quantity::missing(
            "mm",
            "frames.csv lists no outer_diameter_mm with true_id_mm or stent_id_mm",
        ),
    }
}

/// The wall cancels out of the bore, so its uncertainty does not count; it must only be known to be there.
fn bore(before: &Quantity, wall: &Quantity, gap: &Quantity) -> Quantity {
    const METHOD: &str = "neutral arc conserved: (π (D0 + w) + gap)/π − w, D0 the bore before, the gap on the neutral line";
    let (Some(d), Some(w), Some(g)) = (before.value, wall.value, gap.value) else {
        return Quantity::missing(
            "mm",
            "needs the diameter before, the wall and a length of the gap",
        );
    };
    let bore = open_ring_bore(d, w, g);
    match (before.u, gap.u) {
        (Some(u_d), Some(u_g)) => {
            let f = |x: &[f64]| match x {
                [d, g] => open_ring_bore(*d, w, *g),
                _ => f64::NAN,
            };
            match propagate(f, &[d, g], &[u_d, u_g], None) {
                Some(found) => Quantity::known(bore, found.u, "mm", METHOD),
                None => Quantity::without_u(bore, "mm", METHOD, "the uncertainty is not finite"),
            }
        }
        (None, _) => {
            Quantity::without_u(bore, "mm", METHOD, "the diameter before has no uncertainty")
        }
        (_, None) => Quantity::without_u(
            bore,
            "mm",
            METHOD,
            "the gap is stated without an uncertainty (column u of observations.csv)",
        ),
    }
}
