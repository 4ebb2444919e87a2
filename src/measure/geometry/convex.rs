//! A convex region, cut smaller line by line.

type Point = (f64, f64);

/// Corners beyond which a region is cut no more: each cut looks at all of them.
const MOST_CORNERS: usize = 64;

/// A convex region by its corners in order; none where nothing is left.
#[derive(Debug, Clone, Default)]
pub(super) struct Convex {
    corners: Vec<Point>,
    /// Corners of the next region, kept for its room.
    next: Vec<Point>,
}

impl Convex {
    /// Becomes a square about the origin.
    pub(super) fn square(&mut self, half: f64) {
        self.corners.clear();
        let square = [(-half, -half), (half, -half), (half, half), (-half, half)];
        self.corners.extend(square);
    }

    /// Cuts away where `normal` · point is below `least`; a region of very many corners stays as it is, which is larger than it need be.
    pub(super) fn cut(&mut self, normal: Point, least: f64) {
        if self.corners.len() >= MOST_CORNERS {
            return;
        }
        let over = |p: Point| normal.0 * p.0 + normal.1 * p.1 - least;
        if self.corners.iter().all(|p| over(*p) >= 0.0) {
            return;
        }
        self.next.clear();
        let following = self.corners.iter().cycle().skip(1);
        for (a, b) in self.corners.iter().zip(following) {
            let (over_a, over_b) = (over(*a), over(*b));
            if over_a >= 0.0 {
                self.next.push(*a);
            }
            if (over_a < 0.0) != (over_b < 0.0) {
                let share = over_a / (over_a - over_b);
                self.next
                    .push((a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1)));
            }
        }
        std::mem::swap(&mut self.corners, &mut self.next);
    }

    /// The smallest square around it: centre and half side; `None` where nothing is left.
    pub(super) fn around(&self) -> Option<(Point, f64)> {
        let first = *self.corners.first()?;
        let (low, high) = self.corners.iter().fold((first, first), |(low, high), p| {
            (
                (low.0.min(p.0), low.1.min(p.1)),
                (high.0.max(p.0), high.1.max(p.1)),
            )
        });
        let middle = (f64::midpoint(low.0, high.0), f64::midpoint(low.1, high.1));
        Some((middle, (high.0 - low.0).max(high.1 - low.1) / 2.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of side 2 cut to the triangle below its diagonal, then to the corner beyond x + y = 0.5, then to nothing.
    #[test]
    fn a_square_is_cut_down() {
        let mut region = Convex::default();
        assert_eq!(region.around().map(|a| a.1), None);
        region.square(1.0);
        assert_eq!(region.around(), Some(((0.0, 0.0), 1.0)));
        region.cut((1.0, -1.0), 0.0);
        assert_eq!(region.around(), Some(((0.0, 0.0), 1.0)));
        region.cut((1.0, 1.0), 0.5);
        assert_eq!(region.around(), Some(((0.625, 0.25), 0.75)));
        region.cut((-1.0, 0.0), -0.2);
        assert_eq!(region.around(), None);
    }
}
