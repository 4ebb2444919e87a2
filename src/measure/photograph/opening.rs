//! Which of the closed contours of a picture is the opening.

use super::contour::{Field, Ring, rings};
use crate::recording::{OpeningSide, Picture};

/// An opening fills at least this share of the picture: a smaller one is measured worse than the lens allows, and specks are
/// smaller (an estimate of ours).
pub const LEAST_SHARE: f64 = 1e-3;
/// An opening encloses at least so many pixels: below, the grid decides its area.
pub const LEAST_PX: f64 = 100.0;
/// Radius about the centre over which dark and bright are told, as share of the shorter side.
const CENTRE_SHARE: f64 = 0.01;
/// Another opening of at least this share of the chosen one's area is worth telling.
const RIVAL_SHARE: f64 = 0.5;

/// Why there is no opening.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoOpening {
    /// What lies about the centre goes on to the border of the picture.
    CutOff,
    /// No closed contour is large enough.
    None,
}

/// The opening chosen.
#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    /// Its contour.
    pub ring: Ring,
    /// Others that might have been meant.
    pub rivals: Vec<Ring>,
}

/// Where an opening is looked for.
#[derive(Debug, Clone, Copy)]
pub struct Wanted {
    /// A point inside it, px.
    pub centre: (f64, f64),
    /// Dark or bright.
    pub side: OpeningSide,
}

/// Chooses the opening: among the closed contours of at least [`LEAST_SHARE`] of the picture with the wanted side inside, the smallest
/// that goes round the centre; where the centre itself is of the other side, the one nearest to it. A region about the centre that
/// reaches the border is cut off.
///
/// # Errors
/// [`NoOpening`].
pub fn choose(picture: &Picture, level: f64, wanted: &Wanted) -> Result<Chosen, NoOpening> {
    let least = (LEAST_SHARE * picture.grey.len() as f64).max(LEAST_PX);
    let at_centre = bright_about(picture, level, wanted.centre);
    let bright = match wanted.side {
        OpeningSide::Bright => true,
        OpeningSide::Dark => false,
        OpeningSide::Auto => at_centre,
    };
    let mut found = rings(picture, level, wanted.centre, least);
    found.retain(|ring| ring.bright == bright);
    let round = found.iter().filter(|ring| ring.holds_centre);
    let ring = match round.min_by(|a, b| a.area.total_cmp(&b.area)) {
        Some(ring) => *ring,
        None if at_centre == bright => return Err(NoOpening::CutOff),
        None => {
            let near = found
                .iter()
                .min_by(|a, b| a.distance.total_cmp(&b.distance));
            *near.ok_or(NoOpening::None)?
        }
    };
    let rivals = found
        .into_iter()
        .filter(|other| other.start != ring.start && other.area >= RIVAL_SHARE * ring.area)
        .collect();
    Ok(Chosen { ring, rivals })
}

/// True where most pixels about a point are brighter than the level.
fn bright_about(picture: &Picture, level: f64, (x, y): (f64, f64)) -> bool {
    let field = Field::new(picture, level);
    let reach = (CENTRE_SHARE * picture.width.min(picture.height) as f64).max(1.0);
    let span = |middle: f64, size: usize| {
        let last = size.saturating_sub(1) as f64;
        let at = |v: f64| v.clamp(0.0, last) as usize;
        at((middle - reach).round())..=at((middle + reach).round())
    };
    let (mut bright, mut all) = (0_u64, 0_u64);
    for y in span(y, picture.height) {
        for x in span(x, picture.width) {
            bright += u64::from(field.bright(x, y));
            all += 1;
        }
    }
    2 * bright > all
}
