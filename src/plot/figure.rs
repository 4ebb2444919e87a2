//! A sheet to draw on, in display pixels. Hides plotters.
//!
//! Plotters rounds every coordinate to a whole pixel, also in SVG, and a curve drawn so shows steps when enlarged. The sheet is
//! therefore drawn [`FINE`] times larger and shown at its normal size through the `viewBox`.

use super::PlotError;
use super::font;
use super::palette::{self, Ink};
use plotters::backend::{DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontTransform, RGBColor, ShapeStyle, TextStyle};
use std::fmt::Write as _;

/// Drawing units in a display pixel.
const FINE: f64 = 8.0;

/// Longest label drawn; the rest is cut with an ellipsis.
const LONGEST_LABEL: usize = 90;

/// Where the given point lies in a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// At the left end.
    Start,
    /// In the middle.
    Middle,
    /// At the right end.
    End,
}

/// Look of a text. The point given is always at half the height of the letters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Type {
    /// Size in pixels.
    pub size: f64,
    /// Bold.
    pub bold: bool,
    /// Colour.
    pub ink: Ink,
    /// Place of the point.
    pub anchor: Anchor,
    /// Turned a quarter to the left, reading upwards.
    pub upward: bool,
}

impl Type {
    /// Plain text of this size starting at the point.
    pub const fn plain(size: f64) -> Self {
        Self {
            size,
            bold: false,
            ink: palette::TEXT,
            anchor: Anchor::Start,
            upward: false,
        }
    }

    /// In another colour.
    #[must_use]
    pub const fn ink(self, ink: Ink) -> Self {
        Self { ink, ..self }
    }

    /// With the point elsewhere.
    #[must_use]
    pub const fn anchor(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    /// In bold.
    #[must_use]
    pub const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// Reading upwards.
    #[must_use]
    pub const fn upward(self) -> Self {
        Self {
            upward: true,
            ..self
        }
    }
}

/// One thing drawn.
#[derive(Debug, Clone, PartialEq)]
enum Shape {
    Line(Vec<(f64, f64)>, Ink, f64, Option<(f64, f64)>),
    Polygon(Vec<(f64, f64)>, Ink),
    Rect((f64, f64), (f64, f64), Ink),
    Circle((f64, f64), f64, Ink, Option<f64>),
    Text(String, (f64, f64), Type),
}

/// A sheet of a size in display pixels; the origin is the upper left corner.
#[derive(Debug, Clone)]
pub struct Figure {
    width: f64,
    height: f64,
    title: String,
    shapes: Vec<Shape>,
}

impl Figure {
    /// An empty white sheet. The title is what a screen reader says.
    pub fn new(width: f64, height: f64, title: impl Into<String>) -> Self {
        let mut figure = Self {
            width,
            height,
            title: title.into(),
            shapes: Vec::new(),
        };
        figure.rect((0.0, 0.0), (width, height), palette::PAPER);
        figure
    }

    /// A line through points. Points that are not finite are left out.
    pub fn line(&mut self, points: impl IntoIterator<Item = (f64, f64)>, ink: Ink, thickness: f64) {
        self.stroke(points, ink, thickness, None);
    }

    /// A dashed line through points, with dash and gap in pixels.
    pub fn dashed(&mut self, points: &[(f64, f64)], ink: Ink, thickness: f64, dash: (f64, f64)) {
        self.stroke(points.iter().copied(), ink, thickness, Some(dash));
    }

    fn stroke(
        &mut self,
        points: impl IntoIterator<Item = (f64, f64)>,
        ink: Ink,
        thickness: f64,
        dash: Option<(f64, f64)>,
    ) {
        let points: Vec<_> = points
            .into_iter()
            .filter(|(x, y)| x.is_finite() && y.is_finite())
            .collect();
        if points.len() > 1 && ink.alpha > 0.0 {
            self.shapes.push(Shape::Line(points, ink, thickness, dash));
        }
    }

    /// A filled polygon.
    pub fn polygon(&mut self, points: Vec<(f64, f64)>, ink: Ink) {
        if points.iter().all(|(x, y)| x.is_finite() && y.is_finite()) {
            self.shapes.push(Shape::Polygon(points, ink));
        }
    }

    /// A filled rectangle between two corners.
    pub fn rect(&mut self, from: (f64, f64), to: (f64, f64), ink: Ink) {
        if [from.0, from.1, to.0, to.1].iter().all(|v| v.is_finite()) {
            let low = (from.0.min(to.0), from.1.min(to.1));
            let high = (from.0.max(to.0), from.1.max(to.1));
            self.shapes.push(Shape::Rect(low, high, ink));
        }
    }

    /// A filled dot, or a ring of a thickness.
    pub fn circle(&mut self, at: (f64, f64), radius: f64, ink: Ink, ring: Option<f64>) {
        if at.0.is_finite() && at.1.is_finite() {
            self.shapes.push(Shape::Circle(at, radius, ink, ring));
        }
    }

    /// A text at a point.
    pub fn text(&mut self, text: &str, at: (f64, f64), look: Type) {
        if at.0.is_finite() && at.1.is_finite() && !text.is_empty() {
            self.shapes
                .push(Shape::Text(shorten(&clean(text), LONGEST_LABEL), at, look));
        }
    }

    /// A text on a ground of paper, so that lines under it do not spoil it.
    pub fn label(&mut self, text: &str, at: (f64, f64), look: Type) {
        let (left, right) = extent(text, at.0, look);
        let half = look.size * 0.68;
        self.rect(
            (left - 2.0, at.1 - half),
            (right + 2.0, at.1 + half),
            palette::PAPER.faded(0.85),
        );
        self.text(text, at, look);
    }

    /// The SVG document.
    ///
    /// # Errors
    /// Where the drawing library refuses a shape or the font could not be read.
    pub fn finish(self) -> Result<String, PlotError> {
        let size = (fine(self.width) as u32, fine(self.height) as u32);
        let mut body = String::new();
        {
            let mut backend = SVGBackend::with_string(&mut body, size);
            for shape in &self.shapes {
                draw(&mut backend, shape)?;
            }
            backend.present().map_err(|e| PlotError::new(&e))?;
        }
        // The first line is the root element as plotters writes it; ours adds the size to show and what a reader says.
        // What every element repeats is said once at the root, and what is the default is not said. Text is escaped by now, so
        // no quotation mark of it can match.
        let dashes = self.shapes.iter().filter_map(|shape| match shape {
            Shape::Line(_, _, _, dash) => Some(*dash),
            _ => None,
        });
        let inner = body
            .split_once('\n')
            .map_or("", |(_, rest)| rest)
            .replace(" opacity=\"1\"", "")
            .replace(&format!(" font-family=\"{}\"", font::FAMILY), "")
            .replace(" stroke=\"none\" stroke-width=\"8\"", "")
            .replace(" stroke=\"none\"", "")
            .replace(" text-anchor=\"start\"", "")
            .replace(" \"/>", "\"/>");
        let inner = super::compact::strokes(&inner, dashes, FINE);
        let title = escape(&clean(&self.title));
        let mut svg = String::with_capacity(inner.len() + 400);
        write!(
            svg,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" width=\"{}\" height=\"{}\" role=\"img\" \
             aria-label=\"{title}\" font-family=\"{}\" stroke-linejoin=\"round\">\n<title>{title}</title>\n{inner}",
            size.0, size.1, self.width, self.height, font::FAMILY
        )
        .map_err(|e| PlotError::new(&e))?;
        Ok(svg)
    }
}

/// Left and right end of a text at a point.
pub fn extent(text: &str, x: f64, look: Type) -> (f64, f64) {
    let width = font::width(&shorten(&clean(text), LONGEST_LABEL), look.size, look.bold);
    match look.anchor {
        Anchor::Start => (x, x + width),
        Anchor::Middle => (x - width / 2.0, x + width / 2.0),
        Anchor::End => (x - width, x),
    }
}

/// Text without the characters that XML 1.0 forbids.
pub fn clean(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .filter(|c| !matches!(c, '\u{fffe}' | '\u{ffff}'))
        .collect()
}

/// Text for XML and HTML.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}

/// A sentence with its first letter large.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect())
}

/// At most so many characters, the last an ellipsis where something was cut.
pub fn shorten(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(most.saturating_sub(1)).collect();
    short.push('…');
    short
}

fn fine(v: f64) -> i32 {
    (v * FINE).round() as i32
}

fn point((x, y): (f64, f64)) -> (i32, i32) {
    (fine(x), fine(y))
}

fn style(ink: Ink, filled: bool, thickness: f64) -> ShapeStyle {
    let (r, g, b) = ink.rgb;
    ShapeStyle {
        color: RGBColor(r, g, b).mix(ink.alpha),
        filled,
        stroke_width: fine(thickness).max(1) as u32,
    }
}

fn draw(backend: &mut SVGBackend<'_>, shape: &Shape) -> Result<(), PlotError> {
    match shape {
        Shape::Line(points, ink, thickness, _) => backend.draw_path(
            points.iter().copied().map(point),
            &style(*ink, false, *thickness),
        ),
        Shape::Polygon(points, ink) => {
            backend.fill_polygon(points.iter().copied().map(point), &style(*ink, true, 1.0))
        }
        Shape::Rect(low, high, ink) => {
            backend.draw_rect(point(*low), point(*high), &style(*ink, true, 1.0), true)
        }
        Shape::Circle(at, radius, ink, ring) => backend.draw_circle(
            point(*at),
            fine(*radius).max(1) as u32,
            &style(*ink, ring.is_none(), ring.unwrap_or(1.0)),
            ring.is_none(),
        ),
        Shape::Text(text, at, look) => {
            let font = font::font(look.size * FINE, look.bold)
                .ok_or_else(|| PlotError::new(&"the font of the figures could not be read"))?;
            let h_pos = match look.anchor {
                Anchor::Start => HPos::Left,
                Anchor::Middle => HPos::Center,
                Anchor::End => HPos::Right,
            };
            let (r, g, b) = look.ink.rgb;
            let turn = if look.upward {
                FontTransform::Rotate270
            } else {
                FontTransform::None
            };
            let colour = RGBColor(r, g, b);
            let text_style = TextStyle::from(font)
                .transform(turn)
                .color(&colour)
                .pos(Pos::new(h_pos, VPos::Center));
            backend.draw_text(text, &text_style, point(*at))
        }
    }
    .map_err(|e| PlotError::new(&e))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A straight line of 100 px cut 6 on, 4 off has ten dashes, 60 px in all.
    #[test]
    fn text_is_escaped_and_cleaned() {
        let mut figure = Figure::new(100.0, 50.0, "a < b \u{1}");
        figure.text("<script>&", (1.0, 1.0), Type::plain(10.0));
        let svg = figure.finish().unwrap();
        assert!(!svg.contains("<script") && !svg.contains('\u{1}'));
        assert!(svg.contains("&lt;script&gt;&amp;"));
    }
}
