//! What diameter each frame had before and kept after, by arm.

use super::PlotError;
use super::axis::{padded, range};
use super::figure::{Anchor, Figure, Type, shorten};
use super::palette;
use super::panel::{HEADING, Mark, NORMAL, Panel, SMALL, Swatch, draw_mark, legend};
use super::study::{Arm, look};

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 390.0;

/// The figure; `None` where no run that counts has both diameters.
pub fn figure(arms: &[Arm]) -> Result<Option<String>, PlotError> {
    let diameters = arms
        .iter()
        .flat_map(|arm| arm.kept.iter().flat_map(|k| [k.before_mm, k.after_mm]));
    let Some(seen) = range(diameters) else {
        return Ok(None);
    };
    let title = "Diameter before and after each run";
    let mut figure = Figure::new(WIDTH, HEIGHT, title);
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (70.0, 62.0),
        (WIDTH - 24.0, HEIGHT - 52.0),
        (-0.5, arms.len() as f64 - 0.5),
        padded(seen, 0.08),
    );
    panel.y_axis(&mut figure, "Diameter (mm)", palette::TEXT);
    panel.frame(&mut figure);
    let room = (panel.right() - panel.left()) / arms.len() as f64;
    for (i, arm) in arms.iter().enumerate() {
        let (_, ink) = look(i);
        for (k, run) in arm.kept.iter().enumerate() {
            let offset = (k as f64 + 0.5) / arm.kept.len() as f64 * 0.8 - 0.4;
            let x = i as f64 + offset;
            let (low, high) = (panel.at(x, run.before_mm), panel.at(x, run.after_mm));
            figure.line([low, high], ink, 1.3);
            figure.line([(low.0 - 4.0, low.1), (low.0 + 4.0, low.1)], ink, 1.6);
            let mark = if run.fractured { Mark::Dot } else { Mark::Ring };
            draw_mark(&mut figure, high, mark, 3.6, ink);
        }
        let letters = (room / 6.6).max(4.0) as usize;
        figure.text(
            &shorten(&arm.name, letters),
            (panel.x.at(i as f64), panel.bottom() + 15.0),
            Type::plain(SMALL).anchor(Anchor::Middle),
        );
    }
    let middle = f64::midpoint(panel.left(), panel.right());
    let below = Type::plain(NORMAL).anchor(Anchor::Middle);
    figure.text("Group", (middle, panel.bottom() + 36.0), below);
    let entries = [
        (Swatch::Line(palette::QUIET, 1.6), "before".to_owned()),
        (
            Swatch::Mark(Mark::Dot, palette::QUIET),
            "after, fractured".to_owned(),
        ),
        (
            Swatch::Mark(Mark::Ring, palette::QUIET),
            "after, not fractured".to_owned(),
        ),
    ];
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}
