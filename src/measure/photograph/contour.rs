//! Contours of equal grey level by marching squares (W. Lorensen, H. Cline, Comput. Graph. 21 (1987) 163-169, in the plane): where the
//! level is passed between two neighbouring pixels, linear interpolation says where. At a saddle the dark corners are joined.

use crate::recording::Picture;

/// A point of a contour lies between the pixels (x, y) and (x + 1, y): the edges that contours are found from.
pub type Start = (usize, usize);

/// A way through a cell of four pixels.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Side {
    Top,
    Right,
    Bottom,
    Left,
}

/// A picture seen at one level.
#[derive(Clone, Copy)]
pub struct Field<'p> {
    picture: &'p Picture,
    level: f64,
}

impl<'p> Field<'p> {
    /// The picture at a level. One between whole levels meets no pixel exactly.
    pub fn new(picture: &'p Picture, level: f64) -> Self {
        Self { picture, level }
    }

    fn at(self, x: usize, y: usize) -> f64 {
        let row = self.picture.row(y);
        row.get(x).map_or(0.0, |level| f64::from(*level))
    }

    /// True where a pixel is brighter than the level.
    pub fn bright(self, x: usize, y: usize) -> bool {
        self.at(x, y) > self.level
    }

    /// Share of the way from one pixel to its neighbour at which the level is passed.
    fn share(self, from: f64, to: f64) -> f64 {
        if from == to {
            0.0
        } else {
            (self.level - from) / (to - from)
        }
    }

    /// The side a contour leaves a cell by, having come in by `by`.
    fn way_out(self, (x, y): (usize, usize), by: Side) -> Side {
        let corners = [(x, y), (x + 1, y), (x, y + 1), (x + 1, y + 1)];
        let [ul, ur, ll, lr] = corners.map(|(x, y)| self.bright(x, y));
        if ul == lr && ur == ll && ul != ur {
            // A saddle: each bright corner is cut off by itself.
            return match (by, ul) {
                (Side::Top, true) | (Side::Bottom, false) => Side::Left,
                (Side::Top, false) | (Side::Bottom, true) => Side::Right,
                (Side::Left, true) | (Side::Right, false) => Side::Top,
                (Side::Left, false) | (Side::Right, true) => Side::Bottom,
            };
        }
        let passed = [
            (Side::Top, ul != ur),
            (Side::Right, ur != lr),
            (Side::Bottom, ll != lr),
            (Side::Left, ul != ll),
        ];
        let other = passed.iter().find(|(side, passed)| *passed && *side != by);
        other.map_or(by, |(side, _)| *side)
    }

    /// The point where a side of a cell passes the level.
    fn point(self, (x, y): (usize, usize), side: Side) -> (f64, f64) {
        let (from, to) = match side {
            Side::Top => ((x, y), (x + 1, y)),
            Side::Bottom => ((x, y + 1), (x + 1, y + 1)),
            Side::Left => ((x, y), (x, y + 1)),
            Side::Right => ((x + 1, y), (x + 1, y + 1)),
        };
        let share = self.share(self.at(from.0, from.1), self.at(to.0, to.1));
        (
            from.0 as f64 + share * (to.0 - from.0) as f64,
            from.1 as f64 + share * (to.1 - from.1) as f64,
        )
    }

    /// Follows the contour through the edge `start`, downwards or upwards, and gives every point to `visit` with the edge it lies on
    /// where that joins two pixels of a row. True where it comes back to its start; false where it ends at the border.
    pub fn follow(
        self,
        start: Start,
        down: bool,
        mut visit: impl FnMut((f64, f64), Option<Start>),
    ) -> bool {
        let (x, y) = start;
        let (columns, rows) = (self.picture.width, self.picture.height);
        let mut cell = if down {
            Some((x, y))
        } else {
            y.checked_sub(1).map(|y| (x, y))
        };
        let mut by = if down { Side::Top } else { Side::Bottom };
        visit(self.point(start, Side::Top), Some(start));
        while let Some((x, y)) = cell.filter(|(x, y)| x + 1 < columns && y + 1 < rows) {
            let out = self.way_out((x, y), by);
            let edge = match out {
                Side::Top => Some((x, y)),
                Side::Bottom => Some((x, y + 1)),
                Side::Left | Side::Right => None,
            };
            if edge == Some(start) || out == by {
                return true;
            }
            visit(self.point((x, y), out), edge);
            (cell, by) = match out {
                Side::Top => (y.checked_sub(1).map(|y| (x, y)), Side::Bottom),
                Side::Bottom => (Some((x, y + 1)), Side::Top),
                Side::Left => (x.checked_sub(1).map(|x| (x, y)), Side::Right),
                Side::Right => (Some((x + 1, y)), Side::Left),
            };
        }
        false
    }
}

/// A closed contour: what its points say in passing, so that none has to be kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    /// Where it starts, for following it again.
    pub start: Start,
    /// Enclosed area, px².
    pub area: f64,
    /// Points.
    pub points: usize,
    /// True where the inside is brighter than the level.
    pub bright: bool,
    /// True where it goes round the centre.
    pub holds_centre: bool,
    /// Smallest distance of its points from the centre, px.
    pub distance: f64,
}

/// The closed contours of a level that enclose at least `least` px², in the order of their topmost row. Contours that end at the
/// border enclose nothing.
pub fn rings(picture: &Picture, level: f64, centre: (f64, f64), least: f64) -> Vec<Ring> {
    let field = Field::new(picture, level);
    let columns = picture.width;
    let mut seen = vec![0_u64; picture.grey.len().div_ceil(64)];
    let mut found = Vec::new();
    for y in 0..picture.height {
        let row = picture.row(y);
        for (x, (left, right)) in row.iter().zip(row.iter().skip(1)).enumerate() {
            let bright = f64::from(*left) > level;
            if bright == (f64::from(*right) > level) || is_seen(&seen, y * columns + x) {
                continue;
            }
            let mut sums = Sums::about(centre);
            let mut mark = |edge: Option<Start>| {
                if let Some((x, y)) = edge {
                    let at = y * columns + x;
                    if let Some(word) = seen.get_mut(at / 64) {
                        *word |= 1 << (at % 64);
                    }
                }
            };
            let closed = field.follow((x, y), true, |point, edge| {
                mark(edge);
                sums.add(point);
            });
            if !closed {
                field.follow((x, y), false, |_, edge| mark(edge));
                continue;
            }
            let ring = sums.ring((x, y), bright);
            if ring.area >= least {
                found.push(ring);
            }
        }
    }
    found
}

fn is_seen(seen: &[u64], at: usize) -> bool {
    seen.get(at / 64)
        .is_some_and(|word| word >> (at % 64) & 1 == 1)
}

/// The points of a ring found by [`rings`] at the same level; `None` where it has more than `most`.
pub fn points(picture: &Picture, level: f64, ring: &Ring, most: usize) -> Option<Vec<(f64, f64)>> {
    if ring.points > most {
        return None;
    }
    let mut points = Vec::with_capacity(ring.points);
    Field::new(picture, level).follow(ring.start, true, |point, _| points.push(point));
    Some(points)
}

/// Sums over the points of a contour, seen from its centre so that they stay small.
struct Sums {
    centre: (f64, f64),
    first: Option<(f64, f64)>,
    last: (f64, f64),
    twice_area: f64,
    inside: bool,
    distance: f64,
    points: usize,
}

impl Sums {
    fn about(centre: (f64, f64)) -> Self {
        Self {
            centre,
            first: None,
            last: (0.0, 0.0),
            twice_area: 0.0,
            inside: false,
            distance: f64::INFINITY,
            points: 0,
        }
    }

    fn add(&mut self, point: (f64, f64)) {
        let point = (point.0 - self.centre.0, point.1 - self.centre.1);
        self.distance = self.distance.min(point.0.hypot(point.1));
        self.points += 1;
        if self.first.is_none() {
            self.first = Some(point);
        } else {
            self.side(self.last, point);
        }
        self.last = point;
    }

    fn side(&mut self, a: (f64, f64), b: (f64, f64)) {
        self.twice_area += a.0 * b.1 - b.0 * a.1;
        // A ray from the centre to the right is crossed an odd number of times where the ring goes round it.
        if (a.1 > 0.0) != (b.1 > 0.0) && a.0 + (b.0 - a.0) * a.1 / (a.1 - b.1) > 0.0 {
            self.inside = !self.inside;
        }
    }

    /// The ring, which began downwards with the pixel on its left being `bright`.
    fn ring(mut self, start: Start, bright: bool) -> Ring {
        if let Some(first) = self.first {
            self.side(self.last, first);
        }
        Ring {
            start,
            area: self.twice_area.abs() / 2.0,
            points: self.points,
            // With y downwards a positive area has its inside where x is smaller on the way to larger y.
            bright: bright == (self.twice_area > 0.0),
            holds_centre: self.inside,
            distance: self.distance,
        }
    }
}
