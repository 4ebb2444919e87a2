//! Pressure against injected volume, with the free balloon for comparison.
//!
//! The syringe fills the folded balloon at almost no pressure: nine tenths of the volume, and nothing to see. The figure starts where
//! the strokes start and says how much lies before.

use super::axis::{number, padded, range};
use super::curve::{interpolate, volume_pressure};
use super::decimate::{MOST_POINTS, thin_channels};
use super::figure::{Anchor, Figure, Type};
use super::palette;
use super::panel::{HEADING, KPA_PER_ATM, Mark, NORMAL, Panel, SMALL, Swatch, legend};
use super::{PlotError, RunContext};
use crate::recording::{Curve, PhaseKind, RunResult, Trace};

const WIDTH: f64 = 540.0;
const HEIGHT: f64 = 400.0;

/// The fill is left out where it is more than this share of the volume; below, the whole loop reads well.
const LONG_FILL: f64 = 0.3;
/// Share of the volume after the fill that is shown before its end.
const BEFORE_STROKES: f64 = 0.12;

/// The loop; `None` without a volume channel.
pub fn figure(
    run: &RunResult,
    trace: &Trace,
    context: &RunContext,
) -> Result<Option<String>, PlotError> {
    let Some(volume) = &trace.volume_ml else {
        return Ok(None);
    };
    // Samples that have both.
    let points = || {
        volume
            .iter()
            .zip(&trace.pressure_kpa)
            .filter(|(v, p)| v.is_finite() && p.is_finite())
    };
    let (Some(v), Some(p)) = (range(points().map(|q| *q.0)), range(points().map(|q| *q.1))) else {
        return Ok(None);
    };
    let fill = fill(run, volume).filter(|fill| (fill - v.0.min(0.0)) > LONG_FILL * (v.1 - v.0));
    let x_range = fill.map_or_else(
        || padded((v.0.min(0.0), v.1), 0.04),
        |fill| {
            let width = v.1 - fill;
            (fill - BEFORE_STROKES * width, v.1 + 0.06 * width)
        },
    );
    let title = "Pressure against injected volume";
    let mut figure = Figure::new(WIDTH, HEIGHT, format!("Run {}: {title}", run.run_id));
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (70.0, 62.0),
        (WIDTH - 62.0, HEIGHT - 48.0),
        x_range,
        padded((p.0.min(0.0), p.1), 0.06),
    );
    panel.x_axis(&mut figure, Some("Injected volume (mL)"));
    panel.y_axis(&mut figure, "Pressure (kPa)", palette::PRESSURE);
    panel.right_axis(
        &mut figure,
        "Pressure (atm)",
        KPA_PER_ATM,
        palette::PRESSURE,
    );
    panel.frame(&mut figure);
    let mut entries = vec![(Swatch::Line(palette::PRESSURE, 1.6), "this run".to_owned())];
    if let Some(free) = &context.free_balloon {
        let (curve, word) = free_with_line(free, context.line.as_ref());
        panel.dashed(&mut figure, &curve, palette::VOLUME, 2.0, (6.0, 4.0));
        if curve.len() > 1 {
            entries.push((Swatch::Dashed(palette::VOLUME), word.to_owned()));
        }
    }
    let deflation = deflation(run, volume.len());
    let part = |from: usize, to: usize| {
        let v = volume.get(from..to).unwrap_or_default();
        let p = trace.pressure_kpa.get(from..to).unwrap_or_default();
        thin_channels(v, p, MOST_POINTS)
    };
    let down = part(deflation, volume.len());
    if down.len() > 1 {
        panel.line(&mut figure, &down, palette::REFERENCE, 1.2);
        entries.push((
            Swatch::Line(palette::REFERENCE, 1.2),
            "deflation".to_owned(),
        ));
    }
    panel.line(&mut figure, &part(0, deflation), palette::PRESSURE, 1.5);
    mark_events(&mut figure, panel, run);
    if let Some(fill) = fill {
        let at = (panel.left() + 8.0, panel.top() + 14.0);
        let words = format!("the fill to {} mL lies left of this", number(fill, 1));
        figure.text(&words, at, Type::plain(SMALL).ink(palette::QUIET));
    }
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

/// Volume at the first stroke, mL.
fn fill(run: &RunResult, volume: &[f64]) -> Option<f64> {
    let stroke = run.phases.iter().find(|p| p.kind == PhaseKind::Stroke)?;
    volume
        .get(stroke.start..stroke.end)?
        .iter()
        .copied()
        .find(|v| v.is_finite())
}

/// First sample of the deflation, else one past the last.
fn deflation(run: &RunResult, samples: usize) -> usize {
    run.phases
        .iter()
        .find(|p| p.kind == PhaseKind::Deflate)
        .map_or(samples, |p| p.start.min(samples))
}

fn mark_events(figure: &mut Figure, panel: Panel, run: &RunResult) {
    for event in &run.events {
        if let (Some(v), Some(p)) = (event.volume.value, event.pressure.value)
            && panel.holds(v, p)
        {
            panel.mark(figure, (v, p), Mark::Diamond, 4.0, palette::EVENT);
            let (x, y) = panel.at(v, p);
            let look = Type::plain(NORMAL).ink(palette::EVENT).anchor(Anchor::End);
            figure.label(event.kind.word(), (x - 9.0, y - 3.0), look);
        }
    }
}

/// The free balloon's volume as the inflator sees it: with the line's volume at the same pressure where that is known.
fn free_with_line(free: &Curve, line: Option<&Curve>) -> (Vec<(f64, f64)>, &'static str) {
    let balloon = volume_pressure(free);
    let Some(line) = line else {
        return (balloon, "free balloon");
    };
    let together = balloon
        .iter()
        .filter_map(|(v, p)| {
            Some((
                v + interpolate(&line.pressure_kpa, &line.volume_ml, *p)?,
                *p,
            ))
        })
        .collect();
    (together, "free balloon and line")
}
