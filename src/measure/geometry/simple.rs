//! Does an outline cross itself?

use super::side_tree::{Crossing, SideTree};
use super::{GeometryError, Outline};

/// Pairs looked at before giving up: some seconds at most, and a thousand times what an outline of 10⁵ points around a ring needs.
const MOST_PAIRS: u64 = 300_000_000;

impl Outline {
    /// Checks that no two sides cross or touch except neighbours in their common point.
    ///
    /// # Errors
    /// [`GeometryError::SelfCrossing`] with the two sides; [`GeometryError::CrossingUnknown`] where the outline is so entangled that
    /// bounded work does not settle it.
    pub fn check_simple(&self) -> Result<(), GeometryError> {
        match SideTree::new(self).crossing(MOST_PAIRS) {
            Crossing::None => Ok(()),
            Crossing::Found(first, second) => Err(GeometryError::SelfCrossing { first, second }),
            Crossing::Unknown => Err(GeometryError::CrossingUnknown),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_bow_tie_crosses_and_a_ring_does_not() {
        let bow = Outline::new(&[(0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 2.1)]).unwrap();
        assert!(matches!(
            bow.check_simple(),
            Err(GeometryError::SelfCrossing {
                first: 0,
                second: 2
            })
        ));
        let ring: Vec<_> = (0..100_000)
            .map(|i| {
                let (s, c) = (f64::from(i) * std::f64::consts::TAU / 1e5).sin_cos();
                (10.0 * c, 10.0 * s)
            })
            .collect();
        assert_eq!(Outline::new(&ring).unwrap().check_simple(), Ok(()));
        let mut twice = ring.clone();
        twice.swap(30_000, 70_000);
        assert!(matches!(
            Outline::new(&twice).unwrap().check_simple(),
            Err(GeometryError::SelfCrossing { .. })
        ));
    }
}
