//! A closed outline, checked once, so that everything measured on it can rely on it.

use std::fmt;

/// Fewest points of an outline.
pub const MIN_POINTS: usize = 3;
/// Most points taken, so that no file can ask for unbounded work; a photograph's outline has some thousands.
pub const MAX_POINTS: usize = 1_000_000;
/// An outline whose area is below this share of its bounding circle's is a line: far under any ring, far over rounding.
const COLLINEAR_SHARE: f64 = 1e-9;

/// Why points cannot be measured as an outline.
#[derive(Debug, Clone, PartialEq)]
pub enum GeometryError {
    /// Fewer different points than the figure needs.
    TooFewPoints {
        /// Different points found.
        found: usize,
        /// Points needed.
        needed: usize,
    },
    /// More points than [`MAX_POINTS`].
    TooManyPoints {
        /// Points found.
        found: usize,
    },
    /// A coordinate is not a finite number.
    NotFinite {
        /// Position of the point in the list, from 0.
        index: usize,
    },
    /// All points lie on one line.
    Collinear,
    /// Two sides cross.
    SelfCrossing {
        /// First point of one side, from 0 in the cleaned list.
        first: usize,
        /// First point of the other side.
        second: usize,
    },
    /// Whether sides cross could not be told within the allowed work.
    CrossingUnknown,
    /// The fit found no figure of the kind asked for.
    NoFit {
        /// What went wrong.
        why: &'static str,
    },
}

impl fmt::Display for GeometryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFewPoints { found, needed } => {
                write!(f, "{found} different points, at least {needed} are needed")
            }
            Self::TooManyPoints { found } => {
                write!(f, "{found} points, at most {MAX_POINTS} are taken")
            }
            Self::NotFinite { index } => {
                write!(
                    f,
                    "point {} has a coordinate that is no finite number",
                    index + 1
                )
            }
            Self::Collinear => f.write_str("all points lie on one line"),
            Self::SelfCrossing { first, second } => write!(
                f,
                "the outline crosses itself: the side after point {} and the side after point {}",
                first + 1,
                second + 1
            ),
            Self::CrossingUnknown => {
                f.write_str("whether the outline crosses itself could not be told")
            }
            Self::NoFit { why } => write!(f, "the fit found nothing: {why}"),
        }
    }
}

impl std::error::Error for GeometryError {}

/// Checks that every coordinate is finite.
pub(super) fn check_finite(points: &[(f64, f64)]) -> Result<(), GeometryError> {
    match points
        .iter()
        .position(|(x, y)| !(x.is_finite() && y.is_finite()))
    {
        Some(index) => Err(GeometryError::NotFinite { index }),
        None => Ok(()),
    }
}

/// A closed outline in mm: at least three different points, finite, not on one line. The last point is joined to the first;
/// repeated neighbours and a repeated first point at the end are dropped. It may still cross itself: ask
/// [`Outline::check_simple`].
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    points: Vec<(f64, f64)>,
}

impl Outline {
    /// Checks and cleans points in order around the outline, mm.
    ///
    /// # Errors
    /// [`GeometryError`] for too few or too many points, a coordinate that is not finite, points on one line.
    pub fn new(points: &[(f64, f64)]) -> Result<Self, GeometryError> {
        if points.len() > MAX_POINTS {
            return Err(GeometryError::TooManyPoints {
                found: points.len(),
            });
        }
        check_finite(points)?;
        let mut kept = points.to_vec();
        kept.dedup();
        while kept.len() > 1 && kept.first() == kept.last() {
            kept.pop();
        }
        if kept.len() < MIN_POINTS {
            return Err(GeometryError::TooFewPoints {
                found: kept.len(),
                needed: MIN_POINTS,
            });
        }
        if on_one_line(&kept) {
            return Err(GeometryError::Collinear);
        }
        Ok(Self { points: kept })
    }

    /// The points in order, mm.
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// The sides, each from a point to the next, the last back to the first.
    pub fn sides(&self) -> impl Iterator<Item = ((f64, f64), (f64, f64))> + '_ {
        self.points
            .iter()
            .copied()
            .zip(self.points.iter().copied().cycle().skip(1))
    }
}

/// Whether the spread across the main direction vanishes beside the spread along it.
fn on_one_line(points: &[(f64, f64)]) -> bool {
    let n = points.len() as f64;
    let (sum_x, sum_y) = points
        .iter()
        .fold((0.0, 0.0), |(sx, sy), (x, y)| (sx + x / n, sy + y / n));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in points {
        let (dx, dy) = (x - sum_x, y - sum_y);
        xx += dx * dx;
        yy += dy * dy;
        xy += dx * dy;
    }
    let half_sum = f64::midpoint(xx, yy);
    let root = (((xx - yy) / 2.0).powi(2) + xy * xy).sqrt();
    // Eigenvalues of the scatter: squares of lengths, hence the square of the share.
    let across = (half_sum - root).max(0.0);
    across <= COLLINEAR_SHARE * COLLINEAR_SHARE * half_sum || across <= f64::EPSILON * half_sum
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_is_no_outline() {
        assert!(matches!(
            Outline::new(&[(0.0, 0.0), (1.0, 0.0), (1.0, 0.0), (0.0, 0.0)]),
            Err(GeometryError::TooFewPoints { found: 2, .. })
        ));
        assert_eq!(
            Outline::new(&[(0.0, 0.0), (f64::NAN, 1.0), (2.0, 0.0)]),
            Err(GeometryError::NotFinite { index: 1 })
        );
        let line: Vec<_> = (0..50)
            .map(|i| (1e5 + f64::from(i) * 0.3, 7.0 + f64::from(i) * 0.1))
            .collect();
        assert_eq!(Outline::new(&line), Err(GeometryError::Collinear));
    }

    #[test]
    fn drops_the_repeated_end() {
        let outline = Outline::new(&[(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (0.0, 0.0)]).unwrap();
        assert_eq!(outline.points().len(), 3);
        assert_eq!(outline.sides().last(), Some(((0.0, 1.0), (0.0, 0.0))));
    }
}
