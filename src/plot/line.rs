//! The blank run: volume the line takes against pressure, the fitted curve and what is left over.

use super::PlotError;
use super::axis::{padded, range};
use super::curve::{interpolate, pairs};
use super::decimate::{MOST_POINTS, thin};
use super::figure::{Figure, Type};
use super::palette;
use super::panel::{HEADING, Mark, Panel, Swatch, legend};
use crate::recording::{RunResult, Trace};

const WIDTH: f64 = 540.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 24.0;
const TOP: f64 = 62.0;
const HEIGHT: f64 = 220.0;
const RESIDUAL_HEIGHT: f64 = 100.0;
/// Residuals drawn at most: every so many samples one, not the largest.
const MOST_DOTS: usize = 300;

/// The figure; `None` for a run without line result.
pub fn figure(run: &RunResult, trace: Option<&Trace>) -> Result<Option<String>, PlotError> {
    let Some(line) = &run.line else {
        return Ok(None);
    };
    let curve = &line.curve;
    let fit = pairs(&curve.pressure_kpa, &curve.volume_ml);
    let seen = trace
        .and_then(|t| Some(pairs(&t.pressure_kpa, t.volume_ml.as_ref()?)))
        .unwrap_or_default();
    let (Some(p), Some(v)) = (
        range(fit.iter().map(|q| q.0)),
        range(fit.iter().chain(&seen).map(|q| q.1)),
    ) else {
        return Ok(None);
    };
    let left_over: Vec<(f64, f64)> = seen
        .iter()
        .filter_map(|(p, v)| {
            Some((
                *p,
                v - interpolate(&curve.pressure_kpa, &curve.volume_ml, *p)?,
            ))
        })
        .collect();
    let residual_range = range(left_over.iter().map(|q| q.1));
    let below = if residual_range.is_some() {
        RESIDUAL_HEIGHT + 16.0
    } else {
        0.0
    };
    let title = "Line: injected volume against pressure";
    let height = TOP + HEIGHT + below + 48.0;
    let mut figure = Figure::new(WIDTH, height, format!("Run {}: {title}", run.run_id));
    figure.text(title, (LEFT, 18.0), Type::plain(HEADING).bold());
    let x_range = padded((p.0.min(0.0), p.1), 0.03);
    let panel = Panel::new(
        (LEFT, TOP),
        (WIDTH - RIGHT, TOP + HEIGHT),
        x_range,
        padded(v, 0.06),
    );
    let x_label = "Pressure (kPa)";
    panel.x_axis(&mut figure, residual_range.is_none().then_some(x_label));
    panel.y_axis(&mut figure, "Volume (mL)", palette::VOLUME);
    panel.frame(&mut figure);
    panel.line(
        &mut figure,
        &thin(&seen, MOST_POINTS),
        palette::REFERENCE,
        1.2,
    );
    panel.line(&mut figure, &fit, palette::VOLUME, 2.0);
    if let Some(r) = residual_range {
        let top = TOP + HEIGHT + 16.0;
        let most = r.0.abs().max(r.1.abs()).max(1e-6);
        let panel = Panel::new(
            (LEFT, top),
            (WIDTH - RIGHT, top + RESIDUAL_HEIGHT),
            x_range,
            padded((-most, most), 0.1),
        );
        panel.x_axis(&mut figure, Some(x_label));
        panel.y_axis(&mut figure, "Residual (mL)", palette::QUIET);
        panel.frame(&mut figure);
        panel.line(
            &mut figure,
            &[(x_range.0, 0.0), (x_range.1, 0.0)],
            palette::VOLUME,
            1.2,
        );
        // Dots, not a line: what is left over jumps from sample to sample.
        let every = left_over.len().div_ceil(MOST_DOTS).max(1);
        for point in left_over.iter().step_by(every) {
            panel.mark(&mut figure, *point, Mark::Dot, 1.4, palette::REFERENCE);
        }
    }
    let mut entries = vec![(
        Swatch::Line(palette::VOLUME, 2.0),
        "fitted curve".to_owned(),
    )];
    if !seen.is_empty() {
        entries.push((
            Swatch::Line(palette::REFERENCE, 1.4),
            "recorded in this run".to_owned(),
        ));
    }
    legend(&mut figure, (LEFT, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}
