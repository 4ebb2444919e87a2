//! A panel: a rectangle of a sheet with two axes, in which data are drawn.

use super::axis::{Scale, ticks};
use super::figure::{Anchor, Figure, Type};
use super::palette::{self, Ink};

pub use crate::units::KPA_PER_ATM;

/// Size of tick labels, pixels.
pub const SMALL: f64 = 11.0;
/// Size of axis labels, legends and event labels, pixels.
pub const NORMAL: f64 = 12.0;
/// Size of the heading of a figure, pixels.
pub const HEADING: f64 = 14.0;

/// Shape of a mark; arms differ by it as well as by colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Filled dot.
    Dot,
    /// Filled square.
    Square,
    /// Filled triangle.
    Triangle,
    /// Filled diamond.
    Diamond,
    /// Ring.
    Ring,
    /// Cross.
    Cross,
}

/// Marks in the order they are given out.
pub const MARKS: &[Mark] = &[
    Mark::Dot,
    Mark::Square,
    Mark::Triangle,
    Mark::Diamond,
    Mark::Ring,
    Mark::Cross,
];

/// Start and end of a segment in pixels, and whether it starts at its own start.
type Clipped = ((f64, f64), (f64, f64), bool);

/// A panel at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Panel {
    /// Horizontal axis.
    pub x: Scale,
    /// Vertical axis.
    pub y: Scale,
}

impl Panel {
    /// A panel from its corners (upper left, lower right, pixels) and the ranges of its axes.
    pub fn new(
        upper_left: (f64, f64),
        lower_right: (f64, f64),
        x: (f64, f64),
        y: (f64, f64),
    ) -> Self {
        Self {
            x: Scale {
                low: x.0,
                high: x.1,
                from: upper_left.0,
                to: lower_right.0,
            },
            y: Scale {
                low: y.0,
                high: y.1,
                from: lower_right.1,
                to: upper_left.1,
            },
        }
    }

    /// Left edge.
    pub fn left(&self) -> f64 {
        self.x.from
    }

    /// Right edge.
    pub fn right(&self) -> f64 {
        self.x.to
    }

    /// Upper edge.
    pub fn top(&self) -> f64 {
        self.y.to
    }

    /// Lower edge.
    pub fn bottom(&self) -> f64 {
        self.y.from
    }

    /// Pixel of a data point.
    pub fn at(&self, x: f64, y: f64) -> (f64, f64) {
        (self.x.at(x), self.y.at(y))
    }

    /// True where a data point lies inside.
    pub fn holds(&self, x: f64, y: f64) -> bool {
        (self.x.low..=self.x.high).contains(&x) && (self.y.low..=self.y.high).contains(&y)
    }

    /// Grid and tick labels of the horizontal axis, and its label where given.
    pub fn x_axis(&self, figure: &mut Figure, label: Option<&str>) {
        let wanted = ((self.right() - self.left()) / 75.0).max(2.0);
        for (value, text) in ticks(self.x.low, self.x.high, wanted) {
            let x = self.x.at(value);
            figure.line([(x, self.top()), (x, self.bottom())], palette::GRID, 1.0);
            if label.is_some() {
                let look = Type::plain(SMALL)
                    .anchor(Anchor::Middle)
                    .ink(palette::QUIET);
                figure.text(&text, (x, self.bottom() + 13.0), look);
            }
        }
        if let Some(label) = label {
            let middle = f64::midpoint(self.left(), self.right());
            let look = Type::plain(NORMAL).anchor(Anchor::Middle);
            figure.text(label, (middle, self.bottom() + 32.0), look);
        }
    }

    /// Grid, tick labels and label of the vertical axis at the left.
    pub fn y_axis(&self, figure: &mut Figure, label: &str, ink: Ink) {
        let wanted = upright_ticks(self);
        let look = Type::plain(SMALL).anchor(Anchor::End).ink(palette::QUIET);
        let mut widest = 0.0f64;
        for (value, text) in ticks(self.y.low, self.y.high, wanted) {
            let y = self.y.at(value);
            figure.line([(self.left(), y), (self.right(), y)], palette::GRID, 1.0);
            figure.text(&text, (self.left() - 6.0, y), look);
            widest = widest.max(super::font::width(&text, SMALL, false));
        }
        // Left of the longest number, but on the sheet.
        let aside = (widest + 18.0).max(48.0).min(self.left() - NORMAL / 2.0);
        let at = (
            self.left() - aside,
            f64::midpoint(self.top(), self.bottom()),
        );
        let look = Type::plain(NORMAL).anchor(Anchor::Middle).upward().ink(ink);
        figure.text(label, at, look);
    }

    /// A second vertical axis at the right: its value is the left one divided by `unit` (kPa in an atmosphere).
    pub fn right_axis(&self, figure: &mut Figure, label: &str, unit: f64, ink: Ink) {
        let (low, high) = (self.y.low / unit, self.y.high / unit);
        let wanted = upright_ticks(self);
        let look = Type::plain(SMALL).ink(palette::QUIET);
        for (value, text) in ticks(low, high, wanted) {
            let y = self.y.at(value * unit);
            figure.line(
                [(self.right(), y), (self.right() + 4.0, y)],
                palette::AXIS,
                1.0,
            );
            figure.text(&text, (self.right() + 7.0, y), look);
        }
        let at = (
            self.right() + 46.0,
            f64::midpoint(self.top(), self.bottom()),
        );
        let look = Type::plain(NORMAL).anchor(Anchor::Middle).upward().ink(ink);
        figure.text(label, at, look);
    }

    /// A second horizontal axis on top: its value is the lower one divided by `unit`.
    pub fn top_axis(&self, figure: &mut Figure, label: &str, unit: f64) {
        let wanted = ((self.right() - self.left()) / 75.0).max(2.0);
        let look = Type::plain(SMALL).ink(palette::QUIET);
        for (value, text) in ticks(self.x.low / unit, self.x.high / unit, wanted) {
            let x = self.x.at(value * unit);
            self.top_tick(figure, x, &text);
        }
        let at = (self.right(), self.top() - 27.0);
        figure.text(label, at, look.anchor(Anchor::End));
    }

    /// A tick of the axis on top, with its label.
    pub fn top_tick(&self, figure: &mut Figure, x: f64, text: &str) {
        let look = Type::plain(SMALL)
            .ink(palette::QUIET)
            .anchor(Anchor::Middle);
        figure.line([(x, self.top()), (x, self.top() - 4.0)], palette::AXIS, 1.0);
        figure.text(text, (x, self.top() - 12.0), look);
    }

    /// The frame, drawn after the grid and before the data.
    pub fn frame(&self, figure: &mut Figure) {
        let (l, r, t, b) = (self.left(), self.right(), self.top(), self.bottom());
        figure.line([(l, t), (r, t), (r, b), (l, b), (l, t)], palette::AXIS, 1.0);
    }

    /// A line through data, cut at the edges of the panel.
    pub fn line(&self, figure: &mut Figure, points: &[(f64, f64)], ink: Ink, thickness: f64) {
        for run in self.clipped(points) {
            figure.line(run, ink, thickness);
        }
    }

    /// A dashed line through data, cut at the edges of the panel.
    pub fn dashed(
        &self,
        figure: &mut Figure,
        points: &[(f64, f64)],
        ink: Ink,
        thickness: f64,
        dash: (f64, f64),
    ) {
        for run in self.clipped(points) {
            figure.dashed(&run, ink, thickness, dash);
        }
    }

    /// A band between two values of `x`, over the whole height.
    pub fn band(&self, figure: &mut Figure, low: f64, high: f64, ink: Ink) {
        let (low, high) = (low.max(self.x.low), high.min(self.x.high));
        if low < high {
            figure.rect(
                (self.x.at(low), self.top()),
                (self.x.at(high), self.bottom()),
                ink,
            );
        }
    }

    /// A band of upright stripes between two values of `x`: told from any tint, also in print.
    pub fn striped(&self, figure: &mut Figure, low: f64, high: f64, ink: Ink) {
        let from = self.x.at(low.max(self.x.low));
        let to = self.x.at(high.min(self.x.high));
        stripes(figure, (from, self.top()), (to, self.bottom()), ink);
    }

    /// A mark at a data point inside the panel.
    pub fn mark(&self, figure: &mut Figure, (x, y): (f64, f64), mark: Mark, size: f64, ink: Ink) {
        if self.holds(x, y) {
            draw_mark(figure, self.at(x, y), mark, size, ink);
        }
    }

    /// Runs of pixels of a data line inside the panel.
    fn clipped(&self, points: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
        let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
        for pair in points.windows(2) {
            let Some((a, b, joins)) = self.clip(pair[0], pair[1]) else {
                continue;
            };
            match runs.last_mut() {
                Some(run) if joins && run.last() == Some(&a) => run.push(b),
                _ => runs.push(vec![a, b]),
            }
        }
        runs
    }

    /// The part of a segment inside (Liang and Barsky), in pixels; the flag says whether it starts at its own start.
    fn clip(&self, p: (f64, f64), q: (f64, f64)) -> Option<Clipped> {
        if ![p.0, p.1, q.0, q.1].iter().all(|v| v.is_finite()) {
            return None;
        }
        let (dx, dy) = (q.0 - p.0, q.1 - p.1);
        let (mut t0, mut t1) = (0.0f64, 1.0f64);
        let edges = [
            (-dx, p.0 - self.x.low),
            (dx, self.x.high - p.0),
            (-dy, p.1 - self.y.low),
            (dy, self.y.high - p.1),
        ];
        for (d, room) in edges {
            if d == 0.0 {
                if room < 0.0 {
                    return None;
                }
            } else if d < 0.0 {
                t0 = t0.max(room / d);
            } else {
                t1 = t1.min(room / d);
            }
        }
        (t0 <= t1).then(|| {
            let at = |t: f64| self.at(p.0 + t * dx, p.1 + t * dy);
            let start = if t0 == 0.0 { self.at(p.0, p.1) } else { at(t0) };
            let end = if t1 == 1.0 { self.at(q.0, q.1) } else { at(t1) };
            (start, end, t0 == 0.0)
        })
    }
}

/// Number of ticks wanted on an upright axis.
pub fn upright_ticks(panel: &Panel) -> f64 {
    let height = panel.bottom() - panel.top();
    (height / 36.0).max(if height < 80.0 { 3.0 } else { 4.0 })
}

/// Upright stripes inside a rectangle.
fn stripes(figure: &mut Figure, from: (f64, f64), to: (f64, f64), ink: Ink) {
    const APART: f64 = 4.0;
    // On a common raster, so that neighbouring bands do not beat against each other.
    let first = (from.0 / APART).ceil() as i64;
    let last = (to.0 / APART).floor() as i64;
    for k in first..=last {
        let x = k as f64 * APART;
        figure.line([(x, from.1), (x, to.1)], ink, 1.3);
    }
}

/// A mark at a pixel.
pub fn draw_mark(figure: &mut Figure, (x, y): (f64, f64), mark: Mark, size: f64, ink: Ink) {
    let h = size * 0.9;
    match mark {
        Mark::Dot => figure.circle((x, y), size, ink, None),
        Mark::Ring => figure.circle((x, y), size, ink, Some(1.6)),
        Mark::Square => figure.rect((x - h, y - h), (x + h, y + h), ink),
        Mark::Triangle => figure.polygon(
            vec![
                (x, y - 1.2 * size),
                (x + 1.1 * size, y + 0.8 * size),
                (x - 1.1 * size, y + 0.8 * size),
            ],
            ink,
        ),
        Mark::Diamond => {
            let d = 1.3 * size;
            figure.polygon(vec![(x, y - d), (x + d, y), (x, y + d), (x - d, y)], ink);
        }
        Mark::Cross => {
            figure.line([(x - h, y - h), (x + h, y + h)], ink, 1.8);
            figure.line([(x - h, y + h), (x + h, y - h)], ink, 1.8);
        }
    }
}

/// How a legend shows an entry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Swatch {
    /// A field of colour.
    Field(Ink),
    /// Stripes.
    Striped(Ink),
    /// A line of a thickness.
    Line(Ink, f64),
    /// A dashed line.
    Dashed(Ink),
    /// A mark.
    Mark(Mark, Ink),
    /// The upright tick of a censored run.
    Censored(Ink),
    /// The open arrow of a censored run.
    Arrow(Ink),
}

/// Height of a row of a legend.
pub const LEGEND_ROW: f64 = 17.0;

/// Where each entry of a legend starts: rows from a point, wrapped before `right`.
fn legend_places(
    (left, top): (f64, f64),
    right: f64,
    entries: &[(Swatch, String)],
) -> Vec<(f64, f64)> {
    let (mut x, mut y) = (left, top);
    entries
        .iter()
        .map(|(_, word)| {
            let width = 23.0 + super::font::width(word, SMALL, false);
            if x > left && x + width > right {
                x = left;
                y += LEGEND_ROW;
            }
            let place = (x, y);
            x += width + 17.0;
            place
        })
        .collect()
}

/// Height a legend takes beyond its first row.
pub fn legend_extra(left: f64, right: f64, entries: &[(Swatch, String)]) -> f64 {
    legend_places((left, 0.0), right, entries)
        .last()
        .map_or(0.0, |(_, y)| *y)
}

/// A legend in rows from a point, wrapped before `right`.
pub fn legend(figure: &mut Figure, from: (f64, f64), right: f64, entries: &[(Swatch, String)]) {
    let look = Type::plain(SMALL).ink(palette::QUIET);
    let places = legend_places(from, right, entries);
    for ((swatch, word), (x, y)) in entries.iter().zip(places) {
        match swatch {
            Swatch::Field(ink) => figure.rect((x, y - 5.0), (x + 16.0, y + 5.0), *ink),
            Swatch::Striped(ink) => stripes(figure, (x, y - 5.0), (x + 16.0, y + 5.0), *ink),
            Swatch::Line(ink, thickness) => {
                figure.line([(x, y), (x + 18.0, y)], *ink, *thickness);
            }
            Swatch::Dashed(ink) => {
                figure.dashed(&[(x, y), (x + 18.0, y)], *ink, 1.6, (4.0, 3.0));
            }
            Swatch::Mark(mark, ink) => draw_mark(figure, (x + 9.0, y), *mark, 4.0, *ink),
            Swatch::Censored(ink) => {
                figure.line([(x + 9.0, y - 6.0), (x + 9.0, y + 6.0)], *ink, 1.6);
            }
            Swatch::Arrow(ink) => draw_arrow(figure, (x + 9.0, y + 4.0), *ink),
        }
        figure.text(word, (x + 23.0, y), look);
    }
}

/// An open arrow upwards: the true value lies higher.
pub fn draw_arrow(figure: &mut Figure, (x, y): (f64, f64), ink: Ink) {
    figure.circle((x, y), 3.6, ink, Some(1.5));
    figure.line([(x, y - 4.0), (x, y - 15.0)], ink, 1.5);
    figure.line(
        [(x - 4.0, y - 10.5), (x, y - 15.0), (x + 4.0, y - 10.5)],
        ink,
        1.5,
    );
}

/// Places labels of given centres and half heights without overlap inside a range: sorted, pushed apart downwards, then back up.
pub fn spread(centres: &mut [f64], distance: f64, low: f64, high: f64) {
    let mut order: Vec<usize> = (0..centres.len()).collect();
    order.sort_by(|a, b| centres[*a].total_cmp(&centres[*b]).then(a.cmp(b)));
    let mut floor = low;
    for i in &order {
        centres[*i] = centres[*i].max(floor);
        floor = centres[*i] + distance;
    }
    let mut roof = high;
    for i in order.iter().rev() {
        centres[*i] = centres[*i].min(roof);
        roof = centres[*i] - distance;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn panel() -> Panel {
        Panel::new((0.0, 0.0), (100.0, 100.0), (0.0, 10.0), (0.0, 10.0))
    }

    #[test]
    fn a_line_is_cut_at_the_edges() {
        let runs = panel().clipped(&[(-5.0, 5.0), (5.0, 5.0), (5.0, 25.0), (6.0, 25.0)]);
        assert_eq!(runs, vec![vec![(0.0, 50.0), (50.0, 50.0), (50.0, 0.0)]]);
    }

    #[test]
    fn a_line_outside_is_not_drawn() {
        assert!(panel().clipped(&[(11.0, 0.0), (12.0, 10.0)]).is_empty());
        assert!(panel().clipped(&[(1.0, f64::NAN), (2.0, 3.0)]).is_empty());
    }

    #[test]
    fn labels_are_pushed_apart() {
        let mut y = [10.0, 11.0, 12.0, 50.0];
        spread(&mut y, 14.0, 0.0, 60.0);
        let mut sorted = y;
        sorted.sort_by(f64::total_cmp);
        assert!(
            sorted.windows(2).all(|w| w[1] - w[0] >= 14.0 - 1e-9),
            "{y:?}"
        );
        assert!(sorted[0] >= 0.0 && sorted[3] <= 60.0);
    }
}
