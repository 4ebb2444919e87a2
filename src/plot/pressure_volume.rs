//! Pressure against injected volume, with the free balloon and the line for comparison.

use super::axis::{padded, range};
use super::curve::{interpolate, pairs, volume_pressure};
use super::decimate::{MOST_POINTS, thin};
use super::figure::{Anchor, Figure, Type};
use super::palette;
use super::panel::{HEADING, KPA_PER_ATM, Mark, NORMAL, Panel, Swatch, legend};
use super::trace::event_word;
use super::{PlotError, RunContext};
use crate::recording::{Curve, RunResult, Trace};

const WIDTH: f64 = 540.0;
const HEIGHT: f64 = 400.0;

/// The loop; `None` without a volume channel.
pub fn figure(
    run: &RunResult,
    trace: &Trace,
    context: &RunContext,
) -> Result<Option<String>, PlotError> {
    let Some(volume) = &trace.volume_ml else {
        return Ok(None);
    };
    let points = pairs(volume, &trace.pressure_kpa);
    let (Some(v), Some(p)) = (
        range(points.iter().map(|q| q.0)),
        range(points.iter().map(|q| q.1)),
    ) else {
        return Ok(None);
    };
    let title = "Pressure against injected volume";
    let mut figure = Figure::new(WIDTH, HEIGHT, format!("Run {}: {title}", run.run_id));
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (70.0, 62.0),
        (WIDTH - 62.0, HEIGHT - 48.0),
        padded((v.0.min(0.0), v.1), 0.04),
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
    if let Some(line) = &context.line {
        panel.line(&mut figure, &volume_pressure(line), palette::SECOND, 1.6);
        entries.push((Swatch::Line(palette::SECOND, 1.6), "line alone".to_owned()));
    }
    if let Some(free) = &context.free_balloon {
        let (curve, word) = free_with_line(free, context.line.as_ref());
        panel.dashed(&mut figure, &curve, palette::VOLUME, 2.0, (6.0, 4.0));
        if curve.len() > 1 {
            entries.push((Swatch::Dashed(palette::VOLUME), word.to_owned()));
        }
    }
    panel.line(&mut figure, &thin_path(&points), palette::PRESSURE, 1.5);
    for event in &run.events {
        if let (Some(v), Some(p)) = (event.volume.value, event.pressure.value)
            && panel.holds(v, p)
        {
            panel.mark(&mut figure, (v, p), Mark::Diamond, 4.0, palette::EVENT);
            let (x, y) = panel.at(v, p);
            let look = Type::plain(NORMAL).ink(palette::EVENT).anchor(Anchor::End);
            figure.label(event_word(event.kind), (x - 9.0, y - 3.0), look);
        }
    }
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
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

/// A path thinned by the extremes of pressure in buckets of time: the order in time is kept, so loops stay loops.
fn thin_path(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    thin(points, MOST_POINTS)
}
