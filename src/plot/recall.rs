//! How many breaks of a size are found, against their fall over the noise of one sample.

use super::PlotError;
use super::figure::{Anchor, Figure, Type};
use super::palette;
use super::panel::{HEADING, Mark, Panel, SMALL, Swatch, draw_mark, legend};

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 390.0;
/// Falls over the noise at which the axis is labelled.
const LABELS: [f64; 10] = [1.0, 2.0, 3.0, 6.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];

/// Breaks of one class of size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecallPoint {
    /// Fall over noise: lower and upper end of the class.
    pub over_noise: (f64, f64),
    /// Share found.
    pub recall: f64,
    /// Exact limits of the share.
    pub limits: (f64, f64),
}

/// The figure; `clear` is the fall over noise from which a break is to be found.
///
/// # Errors
/// Where the picture cannot be drawn.
pub fn recall(points: &[RecallPoint], clear: f64) -> Result<String, PlotError> {
    let title = "Breaks found by size of their fall";
    let mut figure = Figure::new(WIDTH, HEIGHT, title);
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let low = points.iter().map(|p| p.over_noise.0).fold(clear, f64::min);
    let high = points
        .iter()
        .map(|p| p.over_noise.1)
        .fold(2.0 * clear, f64::max);
    let panel = Panel::new(
        (70.0, 62.0),
        (WIDTH - 24.0, HEIGHT - 52.0),
        (low.ln(), high.ln()),
        (0.0, 1.02),
    );
    panel.y_axis(&mut figure, "Share of breaks found", palette::TEXT);
    let small = Type::plain(SMALL)
        .anchor(Anchor::Middle)
        .ink(palette::QUIET);
    for label in LABELS.iter().filter(|l| (low..=high).contains(*l)) {
        let x = panel.x.at(label.ln());
        figure.line([(x, panel.top()), (x, panel.bottom())], palette::GRID, 1.0);
        figure.text(&label.to_string(), (x, panel.bottom() + 13.0), small);
    }
    let middle = f64::midpoint(panel.left(), panel.right());
    let below = Type::plain(super::panel::NORMAL).anchor(Anchor::Middle);
    let label = "Fall over the standard deviation of one sample";
    figure.text(label, (middle, panel.bottom() + 32.0), below);
    panel.frame(&mut figure);
    panel.dashed(
        &mut figure,
        &[(clear.ln(), 0.0), (clear.ln(), 1.02)],
        palette::QUIET,
        1.3,
        (5.0, 4.0),
    );
    for point in points {
        let x = 0.5 * (point.over_noise.0.ln() + point.over_noise.1.ln());
        let ends = [panel.at(x, point.limits.0), panel.at(x, point.limits.1)];
        figure.line(ends, palette::PRESSURE, 1.3);
        draw_mark(
            &mut figure,
            panel.at(x, point.recall),
            Mark::Dot,
            3.6,
            palette::PRESSURE,
        );
    }
    let entries = [
        (
            Swatch::Mark(Mark::Dot, palette::PRESSURE),
            "found, with its 95 % limits".to_owned(),
        ),
        (
            Swatch::Dashed(palette::QUIET),
            "a clear break lies to the right".to_owned(),
        ),
    ];
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish()
}
