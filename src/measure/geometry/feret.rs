//! Convex hull and the diameters jaws would find on it from outside.

use super::Outline;
use std::f64::consts::PI;

/// Widths of an outline between parallel jaws over all orientations. The jaws rest on the convex hull: an indentation is not
/// seen, and a lobed ring looks rounder than it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Feret {
    /// Largest width, mm.
    pub max_mm: f64,
    /// Smallest width, mm.
    pub min_mm: f64,
    /// Mean width over all orientations, mm: hull perimeter / π (Cauchy's formula).
    pub mean_mm: f64,
}

type Point = (f64, f64);

fn turn(o: Point, p: Point, q: Point) -> f64 {
    (p.0 - o.0) * (q.1 - o.1) - (p.1 - o.1) * (q.0 - o.0)
}

/// Half of a hull: points sorted by x, only left turns kept.
fn chain(points: impl Iterator<Item = Point>) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::new();
    for point in points {
        while let [.., a, b] = kept.as_slice() {
            if turn(*a, *b, point) > 0.0 {
                break;
            }
            kept.pop();
        }
        kept.push(point);
    }
    kept.pop();
    kept
}

impl Outline {
    /// Corners of the convex hull, counter-clockwise (monotone chain).
    pub fn convex_hull(&self) -> Vec<(f64, f64)> {
        let mut sorted = self.points().to_vec();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        sorted.dedup();
        let mut hull = chain(sorted.iter().copied());
        hull.extend(chain(sorted.iter().rev().copied()));
        hull
    }

    /// Largest, smallest and mean width between parallel jaws, mm (rotating calipers).
    pub fn feret(&self) -> Feret {
        let hull = self.convex_hull();
        let n = hull.len();
        let at = |i: usize| hull.get(i % n.max(1)).copied().unwrap_or((0.0, 0.0));
        let between = |a: Point, b: Point| super::length(b.0 - a.0, b.1 - a.1);
        let (mut min, mut max, mut around) = (f64::INFINITY, 0.0_f64, 0.0);
        let mut far = 1;
        for i in 0..n {
            let (a, b) = (at(i), at(i + 1));
            let side = between(a, b);
            around += side;
            // The corner farthest from the side only moves forward; the limit guards against rounding on parallel sides.
            let mut steps = 0;
            while steps < n && turn(a, b, at(far + 1)) > turn(a, b, at(far)) {
                far += 1;
                steps += 1;
            }
            min = min.min(turn(a, b, at(far)) / side);
            for corner in [at(far), at(far + 1)] {
                max = max.max(between(a, corner)).max(between(b, corner));
            }
        }
        Feret {
            max_mm: max,
            min_mm: min,
            mean_mm: around / PI,
        }
    }
}
