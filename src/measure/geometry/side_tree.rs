//! A tree of boxes over the sides of an outline: inside or outside, and crossing sides, in far less than one look at every side.
//!
//! Neighbours along the outline are neighbours in the plane, so halving the list of sides makes good boxes without sorting.

use super::Outline;

/// Sides in a leaf; more would test too many, fewer cost more boxes.
const LEAF: usize = 8;

#[derive(Debug, Clone, Copy)]
struct Box2 {
    x: (f64, f64),
    y: (f64, f64),
}

impl Box2 {
    fn overlaps(&self, other: &Self) -> bool {
        self.x.0 <= other.x.1
            && other.x.0 <= self.x.1
            && self.y.0 <= other.y.1
            && other.y.0 <= self.y.1
    }

    fn join(self, other: Self) -> Self {
        Self {
            x: (self.x.0.min(other.x.0), self.x.1.max(other.x.1)),
            y: (self.y.0.min(other.y.0), self.y.1.max(other.y.1)),
        }
    }
}

type Point = (f64, f64);

#[derive(Debug)]
struct Node {
    bounds: Box2,
    from: usize,
    to: usize,
    /// Positions of the two halves; `None` in a leaf.
    halves: Option<(usize, usize)>,
}

/// The tree of an outline's sides.
#[derive(Debug)]
pub(super) struct SideTree {
    sides: Vec<(Point, Point)>,
    spans: Vec<Span>,
    nodes: Vec<Node>,
    root: usize,
}

/// Whether two sides of an outline cross.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Crossing {
    /// No two do.
    None,
    /// These two do (numbers of their first points).
    Found(usize, usize),
    /// Not settled within the allowed work.
    Unknown,
}

impl SideTree {
    pub(super) fn new(outline: &Outline) -> Self {
        let sides: Vec<_> = outline.sides().collect();
        let mut tree = Self {
            nodes: Vec::with_capacity(2 * sides.len() / LEAF + 2),
            spans: sides.iter().map(Span::of).collect(),
            sides,
            root: 0,
        };
        tree.root = tree.build(0, tree.sides.len());
        tree
    }

    fn build(&mut self, from: usize, to: usize) -> usize {
        let node = if to - from <= LEAF {
            let bounds = self
                .slice(from, to)
                .iter()
                .map(|((x1, y1), (x2, y2))| Box2 {
                    x: (x1.min(*x2), x1.max(*x2)),
                    y: (y1.min(*y2), y1.max(*y2)),
                })
                .reduce(Box2::join)
                .unwrap_or(Box2 {
                    x: (0.0, 0.0),
                    y: (0.0, 0.0),
                });
            Node {
                bounds,
                from,
                to,
                halves: None,
            }
        } else {
            let middle = usize::midpoint(from, to);
            let left = self.build(from, middle);
            let right = self.build(middle, to);
            Node {
                bounds: self.nodes[left].bounds.join(self.nodes[right].bounds),
                from,
                to,
                halves: Some((left, right)),
            }
        };
        self.nodes.push(node);
        self.nodes.len() - 1
    }

    fn slice(&self, from: usize, to: usize) -> &[(Point, Point)] {
        self.sides.get(from..to).unwrap_or_default()
    }

    /// The sides for distances.
    pub(super) fn spans(&self) -> &[Span] {
        &self.spans
    }

    /// Whether a point lies inside, by counting the sides a ray to the right meets (even-odd rule).
    pub(super) fn contains(&self, point: Point, work: &mut u64) -> bool {
        let mut inside = false;
        let mut open = vec![self.root];
        while let Some(at) = open.pop() {
            let node = &self.nodes[at];
            let bounds = &node.bounds;
            if bounds.y.0 > point.1 || bounds.y.1 < point.1 || bounds.x.1 < point.0 {
                continue;
            }
            if let Some((left, right)) = node.halves {
                open.push(left);
                open.push(right);
            } else {
                let sides = self.slice(node.from, node.to);
                *work += sides.len() as u64;
                for ((x1, y1), (x2, y2)) in sides {
                    if (*y1 > point.1) != (*y2 > point.1)
                        && point.0 < (x2 - x1) * (point.1 - y1) / (y2 - y1) + x1
                    {
                        inside = !inside;
                    }
                }
            }
        }
        inside
    }

    /// Two sides that cross or touch without being neighbours. Gives up after `budget` pairs of boxes or sides.
    pub(super) fn crossing(&self, budget: u64) -> Crossing {
        let mut work = 0;
        let mut open = vec![(self.root, self.root)];
        while let Some((a, b)) = open.pop() {
            work += 1;
            if work > budget {
                return Crossing::Unknown;
            }
            let (first, second) = (&self.nodes[a], &self.nodes[b]);
            if a != b && !first.bounds.overlaps(&second.bounds) {
                continue;
            }
            match (first.halves, second.halves) {
                (Some((l, r)), _) if a == b => open.extend([(l, l), (l, r), (r, r)]),
                (Some((l, r)), Some(_)) if first.to - first.from >= second.to - second.from => {
                    open.extend([(l, b), (r, b)]);
                }
                (_, Some((l, r))) => open.extend([(a, l), (a, r)]),
                (Some((l, r)), None) => open.extend([(l, b), (r, b)]),
                (None, None) => {
                    work += (LEAF * LEAF) as u64;
                    if let Some((i, j)) = self.leaf_crossing(first, second) {
                        return Crossing::Found(i.min(j), i.max(j));
                    }
                }
            }
        }
        Crossing::None
    }

    fn leaf_crossing(&self, first: &Node, second: &Node) -> Option<(usize, usize)> {
        let n = self.sides.len();
        for i in first.from..first.to {
            for j in second.from..second.to {
                if i == j || (i + 1) % n == j || (j + 1) % n == i {
                    continue;
                }
                let (a, b) = *self.sides.get(i)?;
                let (c, d) = *self.sides.get(j)?;
                if sides_cross(a, b, c, d) {
                    return Some((i, j));
                }
            }
        }
        None
    }
}

/// A side as its first point, the way to its second, and one over the square of its length (0 for a side without length).
#[derive(Debug)]
pub(super) struct Span {
    from: Point,
    way: Point,
    per_square: f64,
}

impl Span {
    pub(super) fn of(((ax, ay), (bx, by)): &(Point, Point)) -> Self {
        let way = (bx - ax, by - ay);
        let square = way.0 * way.0 + way.1 * way.1;
        Self {
            from: (*ax, *ay),
            way,
            per_square: if square > 0.0 { square.recip() } else { 0.0 },
        }
    }

    /// Square of the distance of a point.
    #[inline]
    pub(super) fn square_to(&self, point: Point) -> f64 {
        let away = self.away(point);
        away.0.powi(2) + away.1.powi(2)
    }

    /// The way to a point from the nearest one of the side.
    #[inline]
    pub(super) fn away(&self, point: Point) -> Point {
        let off = (point.0 - self.from.0, point.1 - self.from.1);
        let along = ((off.0 * self.way.0 + off.1 * self.way.1) * self.per_square).clamp(0.0, 1.0);
        (off.0 - along * self.way.0, off.1 - along * self.way.1)
    }
}

/// Whether two sides share a point.
fn sides_cross(a: Point, b: Point, c: Point, d: Point) -> bool {
    let turn = |o: Point, p: Point, q: Point| (p.0 - o.0) * (q.1 - o.1) - (p.1 - o.1) * (q.0 - o.0);
    let within = |o: Point, p: Point, q: Point| {
        q.0 >= o.0.min(p.0) && q.0 <= o.0.max(p.0) && q.1 >= o.1.min(p.1) && q.1 <= o.1.max(p.1)
    };
    let (t1, t2) = (turn(a, b, c), turn(a, b, d));
    let (t3, t4) = (turn(c, d, a), turn(c, d, b));
    if ((t1 > 0.0 && t2 < 0.0) || (t1 < 0.0 && t2 > 0.0))
        && ((t3 > 0.0 && t4 < 0.0) || (t3 < 0.0 && t4 > 0.0))
    {
        return true;
    }
    (t1 == 0.0 && within(a, b, c))
        || (t2 == 0.0 && within(a, b, d))
        || (t3 == 0.0 && within(c, d, a))
        || (t4 == 0.0 && within(c, d, b))
}
