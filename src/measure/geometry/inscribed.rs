//! The largest circle inside an outline: what the largest plug gauge that passes would show.

use super::convex::Convex;
use super::side_tree::{SideTree, Span};
use super::{GeometryError, Outline};
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Precision of the diameter, mm: a hundredth of the finest step of a hand gauge (0.01 mm), so that the search adds nothing that
/// shows.
pub const PRECISION_MM: f64 = 1e-4;
/// Sides looked at before the search stops with what it has: about a second. A ring of 10⁵ points needs a hundredth of it.
const MOST_WORK: u64 = 200_000_000;
/// Squares waiting at once; bounds the memory.
const MOST_OPEN: usize = 1_000_000;

/// The largest inscribed circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InscribedCircle {
    /// Centre, mm.
    pub center_mm: (f64, f64),
    /// Diameter found, mm: this circle fits.
    pub diameter_mm: f64,
    /// No circle larger than this fits, mm. Within [`PRECISION_MM`] of the diameter unless the work limit was reached.
    pub diameter_bound_mm: f64,
}

/// Sides kept by all waiting squares together; bounds the memory.
const MOST_KEPT: usize = 50_000_000;
/// Sides that large squares see as one: their chord.
const CHORD: usize = 16;
/// Chords are too coarse for squares whose half side is smaller than so many times what they leave out.
const COARSE: f64 = 2.0;
/// A square is cut down rather than divided where what is left of it is so much smaller.
const CUT: f64 = 0.6;

/// A square of the search: centre, half side, distance of the centre to the outline (negative outside).
#[derive(Debug, Clone)]
struct Square {
    center: (f64, f64),
    half: f64,
    distance: f64,
    /// Sides, or chords, of which one is the nearest to every point of the square.
    sides: Vec<u32>,
    /// How far the distance may be off, because chords were looked at; 0 with sides.
    off: f64,
}

impl Square {
    /// No point of the square is farther from the outline.
    fn bound(&self) -> f64 {
        self.distance + self.off + self.half * std::f64::consts::SQRT_2
    }
}

impl PartialEq for Square {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Square {}
impl PartialOrd for Square {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Square {
    fn cmp(&self, other: &Self) -> Ordering {
        self.bound()
            .total_cmp(&other.bound())
            .then_with(|| self.center.0.total_cmp(&other.center.0))
            .then_with(|| self.center.1.total_cmp(&other.center.1))
    }
}

struct Search {
    tree: SideTree,
    chords: Chords,
    /// Squares of the distances of the sides looked at last.
    squares: Vec<f64>,
    /// The part of a square in which a larger circle may still hide.
    left: Convex,
    work: u64,
}

impl Search {
    /// A square that may see the whole outline.
    fn whole(&mut self, center: (f64, f64), half: f64) -> Square {
        if self.chords.serve(half) {
            let all: Vec<u32> = (0..self.chords.spans.len() as u32).collect();
            self.square(center, half, &all, self.chords.off, None)
        } else {
            let all: Vec<u32> = (0..self.tree.spans().len() as u32).collect();
            self.square(center, half, &all, 0.0, None)
        }
    }

    /// A square inside a larger one.
    fn part(&mut self, center: (f64, f64), half: f64, of: &Square) -> Square {
        // No side comes between the centres of a square and of its part where every side is farther than they are apart.
        let apart = super::length(center.0 - of.center.0, center.1 - of.center.1) + of.off;
        let inside = (of.distance.abs() > apart).then_some(of.distance > 0.0);
        if of.off == 0.0 || self.chords.serve(half) {
            return self.square(center, half, &of.sides, of.off, inside);
        }
        let sides = self.chords.sides(&of.sides);
        self.square(center, half, &sides, 0.0, inside)
    }

    /// The part of a square in which every side may be farther than `level`: centre and half side of a square around it inside the square;
    /// `None` where there is no such point.
    ///
    /// With q the point of a side nearest to the centre c, at the distance d, no point c + δ is farther from the side than
    /// |c + δ − q| ≤ d + δ·(c − q)/d + |δ|²/2d.
    fn left(&mut self, square: &Square, level: f64) -> Option<((f64, f64), f64)> {
        self.work += square.sides.len() as u64;
        let mut left = std::mem::take(&mut self.left);
        left.square(square.half);
        // A side so far away cuts nothing.
        let beyond = level - square.off + square.half * std::f64::consts::SQRT_2;
        let spans = spans(&self.tree, &self.chords, square.off);
        let (x, y) = square.center;
        for span in square
            .sides
            .iter()
            .filter_map(|side| spans.get(*side as usize))
        {
            let away = span.away(square.center);
            let distance = (away.0 * away.0 + away.1 * away.1).sqrt();
            if distance >= beyond {
                continue;
            }
            let bends = square.half * square.half / distance;
            if bends.is_finite() {
                let least = level - square.off - distance - bends;
                left.cut((away.0 / distance, away.1 / distance), least);
            }
        }
        let around = left.around();
        self.left = left;
        around.map(|((dx, dy), half)| {
            // Only in the square itself are all sides known that may be the nearest; what is left lies in it.
            let room = (square.half - half).max(0.0);
            let center = (x + dx.clamp(-room, room), y + dy.clamp(-room, room));
            (center, half)
        })
    }

    /// The square with the sides that matter in it, out of those given; `inside` where it is known whether its centre is.
    fn square(
        &mut self,
        center: (f64, f64),
        half: f64,
        sides: &[u32],
        off: f64,
        inside: Option<bool>,
    ) -> Square {
        let spans = spans(&self.tree, &self.chords, off);
        let square_to = |side: &u32| {
            spans
                .get(*side as usize)
                .map_or(f64::INFINITY, |span| span.square_to(center))
        };
        self.squares.clear();
        self.squares.extend(sides.iter().map(square_to));
        self.work += sides.len() as u64;
        let distance = self
            .squares
            .iter()
            .copied()
            .fold(f64::INFINITY, f64::min)
            .sqrt();
        // At any point of the square a side is nearer than at the centre by no more than half the diagonal, and the nearest one is
        // farther by no more than that; a chord stands for sides that far off on either side of it.
        let reach = distance + 2.0 * (half * std::f64::consts::SQRT_2 + off);
        let near = |square: &f64| *square <= reach * reach;
        let mut kept = Vec::with_capacity(self.squares.iter().filter(|s| near(s)).count());
        let sides = sides.iter().zip(&self.squares);
        kept.extend(
            sides
                .filter(|(_, square)| near(square))
                .map(|(side, _)| *side),
        );
        let inside = inside.unwrap_or_else(|| self.tree.contains(center, &mut self.work));
        Square {
            center,
            half,
            distance: if inside { distance } else { -distance },
            sides: kept,
            off,
        }
    }
}

/// Sides of the outline, or its chords where the distance may be off.
fn spans<'s>(tree: &'s SideTree, chords: &'s Chords, off: f64) -> &'s [Span] {
    if off > 0.0 {
        &chords.spans
    } else {
        tree.spans()
    }
}

/// Chords over some sides each: enough for squares that are large beside what the chords leave out.
struct Chords {
    spans: Vec<Span>,
    /// No point of a chord is farther from the sides under it, or they from it.
    off: f64,
    /// Sides of the outline.
    count: u32,
}

impl Chords {
    fn of(points: &[(f64, f64)]) -> Self {
        let count = points.len();
        let next = |at: usize| points.get(at % count).copied().unwrap_or_default();
        let mut off = 0.0_f64;
        let spans = (0..count)
            .step_by(CHORD)
            .map(|from| {
                let to = (from + CHORD).min(count);
                let span = Span::of(&(next(from), next(to)));
                for at in from + 1..to {
                    off = off.max(span.square_to(next(at)));
                }
                span
            })
            .collect();
        Self {
            spans,
            off: off.sqrt(),
            count: u32::try_from(count).unwrap_or(u32::MAX),
        }
    }

    /// True for squares of this half side.
    fn serve(&self, half: f64) -> bool {
        self.off > 0.0 && half > COARSE * self.off
    }

    /// The sides under some chords.
    fn sides(&self, chords: &[u32]) -> Vec<u32> {
        let under = |chord: &u32| {
            let from = chord * CHORD as u32;
            from..(from + CHORD as u32).min(self.count)
        };
        chords.iter().flat_map(under).collect()
    }
}

impl Outline {
    /// The largest circle that fits inside, by dividing squares where a larger one may still hide (branch and bound on the
    /// distance to the outline). Work and memory are bounded; the bound left over is in the result.
    ///
    /// # Errors
    /// [`GeometryError::NoFit`] where no point lies inside.
    pub fn largest_inscribed_circle(&self) -> Result<InscribedCircle, GeometryError> {
        let spread = |pick: fn(&(f64, f64)) -> f64| {
            self.points()
                .iter()
                .map(pick)
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                    (low.min(v), high.max(v))
                })
        };
        let ((x_low, x_high), (y_low, y_high)) = (spread(|p| p.0), spread(|p| p.1));
        let size = (x_high - x_low).max(y_high - y_low);
        // Half the precision in the radius. For outlines of other sizes than rings the precision stays above what f64 resolves.
        let precision = (PRECISION_MM / 2.0).max(size * 1e-12);
        let mut search = Search {
            tree: SideTree::new(self),
            chords: Chords::of(self.points()),
            squares: Vec::new(),
            left: Convex::default(),
            work: 0,
        };
        let middle = (f64::midpoint(x_low, x_high), f64::midpoint(y_low, y_high));
        let first = search.whole(middle, size / 2.0);
        let center = search.whole(self.centroid(), 0.0);
        let mut best = (center.distance, center.center);
        let mut kept = first.sides.len();
        let mut open = BinaryHeap::from([first]);
        let bound = loop {
            let Some(square) = open.pop() else {
                break best.0 + precision;
            };
            let bound = square.bound();
            kept -= square.sides.len();
            // A distance to chords is at least so large.
            if square.distance - square.off > best.0 {
                best = (square.distance - square.off, square.center);
            }
            let settled = bound <= best.0 + precision;
            if settled || search.work > MOST_WORK || open.len() > MOST_OPEN || kept > MOST_KEPT {
                // What was cut away may still reach so far.
                break bound.max(best.0 + precision);
            }
            let Some((center, half)) = search.left(&square, best.0 + precision) else {
                continue;
            };
            if half < CUT * square.half {
                let part = search.part(center, half, &square);
                kept += part.sides.len();
                open.push(part);
                continue;
            }
            let half = square.half / 2.0;
            for (sx, sy) in [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)] {
                let center = (square.center.0 + sx * half, square.center.1 + sy * half);
                let part = search.part(center, half, &square);
                if part.bound() > best.0 {
                    kept += part.sides.len();
                    open.push(part);
                }
            }
        };
        let (distance, center_mm) = best;
        if distance > 0.0 {
            Ok(InscribedCircle {
                center_mm,
                diameter_mm: 2.0 * distance,
                diameter_bound_mm: 2.0 * bound.max(distance),
            })
        } else {
            Err(GeometryError::NoFit {
                why: "no point lies inside the outline",
            })
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn ring(n: u32, radius: impl Fn(f64) -> f64) -> Outline {
        let points: Vec<_> = (0..n)
            .map(|i| {
                let t = f64::from(i) * std::f64::consts::TAU / f64::from(n);
                (radius(t) * t.cos(), radius(t) * t.sin())
            })
            .collect();
        Outline::new(&points).unwrap()
    }

    /// Inscribed circle of the 3-4-5 triangle: radius 1 (Euclid IV.4, r = (a + b - c)/2).
    #[test]
    fn triangle() {
        let triangle = Outline::new(&[(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)]).unwrap();
        let circle = triangle.largest_inscribed_circle().unwrap();
        assert!((circle.diameter_mm - 2.0).abs() < 1e-4);
        assert!((circle.center_mm.0 - 1.0).abs() < 1e-3);
        assert!(circle.diameter_bound_mm < 2.0 + 2e-4);
    }

    /// The largest circle in an ellipse touches the ends of its minor axis; in a trefoil r = 10 + cos 3θ it touches the three waists.
    #[test]
    fn chords_lose_nothing() {
        for n in [100, 2048, 2051] {
            let ellipse: Vec<_> = (0..n)
                .map(|i| f64::from(i) * std::f64::consts::TAU / f64::from(n))
                .map(|t| (12.0 * t.cos() + 3.0, 10.0 * t.sin() - 1.0))
                .collect();
            let ellipse = Outline::new(&ellipse).unwrap();
            let trefoil = ring(n, |t| 10.0 + (3.0 * t).cos());
            for (outline, expected) in [(ellipse, 20.0), (trefoil, 18.0)] {
                let circle = outline.largest_inscribed_circle().unwrap();
                // Sides cut the curve by up to r (1 − cos π/n) on each side.
                let cut = 2.0 * 15.0 * (1.0 - (std::f64::consts::PI / f64::from(n)).cos());
                assert!(
                    (circle.diameter_mm - expected).abs() < cut + PRECISION_MM,
                    "{n}: {circle:?}"
                );
                assert!(circle.diameter_bound_mm - circle.diameter_mm <= PRECISION_MM * 1.001);
            }
        }
    }

    /// Distance of a point to a polygon by the formula, every side looked at.
    fn distance(outline: &Outline, (x, y): (f64, f64)) -> f64 {
        let to_side = |((ax, ay), (bx, by)): ((f64, f64), (f64, f64))| {
            let (dx, dy) = (bx - ax, by - ay);
            let along = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy);
            let along = along.clamp(0.0, 1.0);
            (x - ax - along * dx).hypot(y - ay - along * dy)
        };
        outline.sides().map(to_side).fold(f64::INFINITY, f64::min)
    }

    /// The circle fits where it is said to be, and no other place seen by a fine look around has a larger one: long, lobed and crooked
    /// rings.
    #[test]
    fn the_circle_fits_and_no_larger_one_is_seen() {
        for shape in 0..40_u32 {
            let phase = |k: u32| f64::from(shape * 7 + k * k * 3);
            let wave = |t: f64| {
                (2..6)
                    .map(|k| 0.6 * (f64::from(k) * t + phase(k)).cos() / f64::from(k))
                    .sum::<f64>()
            };
            let long = 1.0 + f64::from(shape % 5) * 0.7;
            let points: Vec<_> = (0..300)
                .map(|i| f64::from(i) * std::f64::consts::TAU / 300.0)
                .map(|t| (t, 5.0 * (1.0 + 0.5 * wave(t))))
                .map(|(t, r)| (long * r * t.cos() + phase(1), r * t.sin()))
                .collect();
            let outline = Outline::new(&points).unwrap();
            let circle = outline.largest_inscribed_circle().unwrap();
            let radius = circle.diameter_mm / 2.0;
            assert!(
                (distance(&outline, circle.center_mm) - radius).abs() < 1e-9,
                "{shape}: {circle:?}"
            );
            assert!(circle.diameter_bound_mm - circle.diameter_mm <= PRECISION_MM * 1.001);
            // Better and better places from the best of a grid on.
            let mut search = SideTree::new(&outline);
            let inside = |tree: &mut SideTree, p| tree.contains(p, &mut 0);
            let (mut best, mut step) = ((f64::NEG_INFINITY, circle.center_mm), 1.0);
            let grid = |step: f64, n: i32, (x, y): (f64, f64)| {
                (-n..=n).flat_map(move |i| {
                    (-n..=n).map(move |j| (x + step * f64::from(i), y + step * f64::from(j)))
                })
            };
            for round in 0..14 {
                for place in grid(step, if round == 0 { 25 } else { 2 }, best.1) {
                    let here = distance(&outline, place);
                    if here > best.0 && inside(&mut search, place) {
                        best = (here, place);
                    }
                }
                step /= 2.0;
            }
            assert!(
                radius > best.0 - PRECISION_MM / 2.0,
                "{shape}: {circle:?}, {best:?}"
            );
        }
    }

    /// Many points, and a slot whose best centres fill a line: both stay within bounded work.
    #[test]
    fn large_outlines_are_quick() {
        let circle = ring(100_000, |_| 10.0).largest_inscribed_circle().unwrap();
        assert!((circle.diameter_mm - 20.0).abs() < 1e-4);
        let slot: Vec<_> = (0..=50_000)
            .map(|i| (f64::from(i) * 1e-3, 0.0))
            .chain((0..=50_000).rev().map(|i| (f64::from(i) * 1e-3, 4.0)))
            .collect();
        let circle = Outline::new(&slot)
            .unwrap()
            .largest_inscribed_circle()
            .unwrap();
        assert!((circle.diameter_mm - 4.0).abs() < 1e-3, "{circle:?}");
    }
}
