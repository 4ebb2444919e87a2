//! The smallest circle around an outline: the bore that the whole ring would pass.

use super::Outline;
use super::circle_fit::Circle;

/// A point so much farther out than the circle, as a share of its radius, lies on it: rounding.
const ON_CIRCLE: f64 = 1e-12;
/// Points taken in before the search stops. Each makes the circle larger, and a hull needs some ten; never met.
const MOST_ROUNDS: usize = 10_000;

type Point = (f64, f64);

fn distance(a: Point, b: Point) -> f64 {
    super::length(a.0 - b.0, a.1 - b.1)
}

fn around_two(a: Point, b: Point) -> Circle {
    Circle {
        center_mm: (f64::midpoint(a.0, b.0), f64::midpoint(a.1, b.1)),
        radius_mm: distance(a, b) / 2.0,
    }
}

/// The circle through three points; `None` where they lie on one line.
fn through_three(a: Point, b: Point, c: Point) -> Option<Circle> {
    // Relative to the first, so that a place far from the origin loses no digits.
    let (bx, by) = (b.0 - a.0, b.1 - a.1);
    let (cx, cy) = (c.0 - a.0, c.1 - a.1);
    let twice = 2.0 * (bx * cy - by * cx);
    let (bb, cc) = (bx * bx + by * by, cx * cx + cy * cy);
    let (x, y) = ((cy * bb - by * cc) / twice, (bx * cc - cx * bb) / twice);
    let radius_mm = super::length(x, y);
    radius_mm.is_finite().then_some(Circle {
        center_mm: (a.0 + x, a.1 + y),
        radius_mm,
    })
}

/// The smallest circle around at most four points, and those it rests on.
fn around_few(points: &[Point]) -> Option<(Circle, Vec<Point>)> {
    let mut candidates: Vec<(Circle, Vec<Point>)> = Vec::new();
    for (i, a) in points.iter().enumerate() {
        for (j, b) in points.iter().enumerate().skip(i + 1) {
            candidates.push((around_two(*a, *b), vec![*a, *b]));
            for c in points.iter().skip(j + 1) {
                let circle = through_three(*a, *b, *c);
                candidates.extend(circle.map(|circle| (circle, vec![*a, *b, *c])));
            }
        }
    }
    candidates
        .into_iter()
        .filter(|(circle, _)| points.iter().all(|p| holds(circle, *p)))
        .min_by(|a, b| a.0.radius_mm.total_cmp(&b.0.radius_mm))
}

fn holds(circle: &Circle, point: Point) -> bool {
    distance(circle.center_mm, point) <= circle.radius_mm * (1.0 + ON_CIRCLE)
}

impl Outline {
    /// The smallest circle around the outline, mm. It rests on two or three corners of the hull: whichever lies farthest outside is
    /// taken in until none does.
    pub fn smallest_circumscribed_circle(&self) -> Circle {
        let hull = self.convex_hull();
        let (x0, y0) = hull.first().copied().unwrap_or((0.0, 0.0));
        // Relative to a corner, so that an outline far from the origin loses no digits.
        let hull: Vec<Point> = hull.iter().map(|(x, y)| (x - x0, y - y0)).collect();
        let first = (0.0, 0.0);
        let farthest = |from: Point| {
            let apart = hull.iter().map(|p| (distance(from, *p), *p));
            apart
                .reduce(|far, next| if next.0 >= far.0 { next } else { far })
                .map_or(first, |(_, p)| p)
        };
        let other = farthest(first);
        let mut circle = around_two(first, other);
        let mut rests_on = vec![first, other];
        for _ in 0..MOST_ROUNDS {
            let out = farthest(circle.center_mm);
            if holds(&circle, out) {
                break;
            }
            rests_on.push(out);
            let Some((next, on)) = around_few(&rests_on) else {
                break;
            };
            // A circle that no longer grows has met rounding.
            if next.radius_mm <= circle.radius_mm {
                break;
            }
            (circle, rests_on) = (next, on);
        }
        Circle {
            center_mm: (circle.center_mm.0 + x0, circle.center_mm.1 + y0),
            ..circle
        }
    }
}
