//! Load on the frame and its ring force against diameter.

use super::PlotError;
use super::axis::{number, padded, range, ticks};
use super::curve::pairs;
use super::decimate::{MOST_POINTS, thin};
use super::figure::{Anchor, Figure, Type};
use super::palette;
use super::panel::{HEADING, Mark, NORMAL, Panel, SMALL, Swatch, legend, upright_ticks};
use crate::recording::{EventKind, FrameResult, RunResult};

const WIDTH: f64 = 540.0;
const HEIGHT: f64 = 400.0;

/// The frame curve; `None` without one.
pub fn figure(run: &RunResult) -> Result<Option<String>, PlotError> {
    let Some(frame) = &run.frame else {
        return Ok(None);
    };
    let load = pairs(&frame.curve.diameter_mm, &frame.curve.pressure_kpa);
    let (Some(d), Some(p)) = (
        range(load.iter().map(|q| q.0)),
        range(load.iter().map(|q| q.1)),
    ) else {
        return Ok(None);
    };
    let title = "Load on the frame against diameter";
    let mut figure = Figure::new(WIDTH, HEIGHT, format!("Run {}: {title}", run.run_id));
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let corner = (WIDTH - 62.0, HEIGHT - 48.0);
    let d_range = padded(d, 0.06);
    let panel = Panel::new(
        (70.0, 62.0),
        corner,
        d_range,
        padded((p.0.min(0.0), p.1), 0.10),
    );
    panel.x_axis(&mut figure, Some("Diameter (mm)"));
    panel.y_axis(&mut figure, "Load on the frame (kPa)", palette::PRESSURE);
    panel.frame(&mut figure);
    let mut entries = vec![(Swatch::Line(palette::PRESSURE, 1.8), "load".to_owned())];
    let force = pairs(&frame.curve.diameter_mm, &frame.curve.force_n);
    if let Some(f) = range(force.iter().map(|q| q.1)) {
        let beside = Panel::new(
            (70.0, 62.0),
            corner,
            d_range,
            padded((f.0.min(0.0), f.1), 0.10),
        );
        force_axis(&mut figure, beside);
        let points = thin(&force, MOST_POINTS);
        beside.dashed(&mut figure, &points, palette::VOLUME, 1.6, (6.0, 4.0));
        entries.push((Swatch::Dashed(palette::VOLUME), "ring force".to_owned()));
    }
    panel.line(
        &mut figure,
        &thin(&load, MOST_POINTS),
        palette::PRESSURE,
        1.8,
    );
    mark_yield(&mut figure, panel, frame);
    mark_fracture(&mut figure, panel, run, &load);
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

/// The force axis at the right has a scale of its own.
fn force_axis(figure: &mut Figure, panel: Panel) {
    let wanted = upright_ticks(&panel);
    let look = Type::plain(SMALL).ink(palette::QUIET);
    for (value, text) in ticks(panel.y.low, panel.y.high, wanted) {
        let y = panel.y.at(value);
        figure.line(
            [(panel.right(), y), (panel.right() + 4.0, y)],
            palette::AXIS,
            1.0,
        );
        figure.text(&text, (panel.right() + 7.0, y), look);
    }
    let middle = f64::midpoint(panel.top(), panel.bottom());
    let look = Type::plain(NORMAL)
        .anchor(Anchor::Middle)
        .upward()
        .ink(palette::VOLUME);
    figure.text("Ring force (N)", (panel.right() + 46.0, middle), look);
}

fn mark_yield(figure: &mut Figure, panel: Panel, frame: &FrameResult) {
    if let (Some(d), Some(p)) = (frame.yield_diameter.value, frame.yield_load.value)
        && panel.holds(d, p)
    {
        let (x, y) = panel.at(d, p);
        panel.mark(figure, (d, p), Mark::Square, 4.0, palette::SECOND);
        let look = Type::plain(NORMAL).ink(palette::SECOND);
        figure.text(
            &format!("yield {} kPa", number(p, 0)),
            (x + 9.0, y + 14.0),
            look,
        );
    }
}

/// The fracture is marked at the diameter of the event where that is known, else at the highest load.
fn mark_fracture(figure: &mut Figure, panel: Panel, run: &RunResult, load: &[(f64, f64)]) {
    if !run.events.iter().any(|e| e.kind == EventKind::Fracture) {
        return;
    }
    let highest = load
        .iter()
        .copied()
        .fold(None, |best: Option<(f64, f64)>, point| match best {
            Some(b) if b.1 >= point.1 => Some(b),
            _ => Some(point),
        });
    let Some(highest) = highest else { return };
    let at_event = run.diameters.as_ref().and_then(|d| d.at_event.value);
    // The point of the curve next to the diameter of the event, on the way up.
    let point = at_event
        .and_then(|d| {
            load.iter()
                .copied()
                .take_while(|q| *q != highest)
                .find(|q| q.0 >= d)
        })
        .unwrap_or(highest);
    panel.mark(figure, point, Mark::Diamond, 4.5, palette::EVENT);
    let (x, y) = panel.at(point.0, point.1);
    let look = Type::plain(NORMAL).ink(palette::EVENT).anchor(Anchor::End);
    figure.text("fracture", (x - 10.0, y - 4.0), look);
}
