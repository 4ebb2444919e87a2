//! The free balloon: diameter and volume against pressure, with nominal and rated pressure.

use super::axis::{number, padded, range};
use super::curve::{hold_ends, interpolate, pairs};
use super::decimate::{MOST_POINTS, thin};
use super::figure::{Anchor, Figure, Type, extent};
use super::palette::{self, Ink};
use super::panel::{HEADING, KPA_PER_ATM, Mark, Panel, SMALL, Swatch, legend};
use super::{PlotError, RunContext};
use crate::recording::{Curve, Readings, RunResult, Trace};

const WIDTH: f64 = 540.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 24.0;
const PANEL_HEIGHT: f64 = 190.0;
const LIMIT_DASH: (f64, f64) = (4.0, 3.0);

/// What one panel shows.
struct Part {
    label: &'static str,
    ink: Ink,
    fit: Vec<(f64, f64)>,
    /// Limits of a new reading, where there are any.
    limits: [Vec<(f64, f64)>; 2],
    seen: Vec<(f64, f64)>,
}

/// The figure; `None` for a run without balloon result.
pub fn figure(
    run: &RunResult,
    trace: Option<&Trace>,
    context: &RunContext,
) -> Result<Option<String>, PlotError> {
    let Some(balloon) = &run.balloon else {
        return Ok(None);
    };
    let curve = &balloon.curve;
    let seen = |channel: Option<&Readings>| {
        channel.zip(trace).map_or_else(Vec::new, |(v, t)| {
            hold_ends(&run.phases, &t.pressure_kpa, v)
        })
    };
    // The balloon's own volume: what was injected less what the line took.
    let volume_seen = || {
        let injected = seen(trace.and_then(|t| t.volume_ml.as_ref()));
        let Some(line) = &context.line else {
            return Vec::new();
        };
        let own = |(p, v): (f64, f64)| {
            Some((p, v - interpolate(&line.pressure_kpa, &line.volume_ml, p)?))
        };
        injected.into_iter().filter_map(own).collect()
    };

    let parts: Vec<Part> = [
        Part {
            label: "Diameter (mm)",
            ink: palette::DIAMETER,
            fit: pairs(&curve.pressure_kpa, &curve.diameter_mm),
            limits: [&curve.reading_low_mm, &curve.reading_high_mm]
                .map(|limit| pairs(&curve.pressure_kpa, limit)),
            seen: seen(trace.and_then(|t| t.diameter_mm.as_ref())),
        },
        Part {
            label: "Volume (mL)",
            ink: palette::VOLUME,
            fit: pairs(&curve.pressure_kpa, &curve.volume_ml),
            limits: Default::default(),
            seen: volume_seen(),
        },
    ]
    .into_iter()
    .filter(|part| part.fit.len() > 1)
    .collect();
    let pressures = parts.iter().flat_map(|p| p.fit.iter().map(|q| q.0));
    let Some(pressure) = range(pressures) else {
        return Ok(None);
    };
    let height = 76.0 + parts.len() as f64 * (PANEL_HEIGHT + 26.0) + 66.0;
    let title = "Free balloon: diameter and volume against pressure";
    let mut figure = Figure::new(WIDTH, height, format!("Run {}: {title}", run.run_id));
    figure.text(title, (LEFT, 18.0), Type::plain(HEADING).bold());
    let mut top = 94.0;
    let count = parts.len();
    let measured = parts.iter().any(|p| !p.seen.is_empty());
    for (i, part) in parts.iter().enumerate() {
        let y = range(part.fit.iter().chain(&part.seen).map(|q| q.1)).unwrap_or((0.0, 1.0));
        let panel = Panel::new(
            (LEFT, top),
            (WIDTH - RIGHT, top + PANEL_HEIGHT),
            padded((pressure.0.min(0.0), pressure.1), 0.03),
            padded(y, 0.06),
        );
        let last = i + 1 == count;
        panel.x_axis(&mut figure, last.then_some("Pressure (kPa)"));
        panel.y_axis(&mut figure, part.label, part.ink);
        panel.frame(&mut figure);

        for limit in &part.limits {
            let limit = thin(limit, MOST_POINTS);
            panel.dashed(&mut figure, &limit, part.ink, 1.0, LIMIT_DASH);
        }
        panel.line(&mut figure, &thin(&part.fit, MOST_POINTS), part.ink, 2.0);
        for point in &part.seen {
            panel.mark(&mut figure, *point, Mark::Ring, 3.4, palette::TEXT);
        }

        limits(&mut figure, panel, context, i == 0);
        top += PANEL_HEIGHT + 26.0;
    }
    let mut entries = vec![(Swatch::Line(palette::QUIET, 2.0), "fitted curve".to_owned())];
    if parts.iter().any(|p| !p.limits[0].is_empty()) {
        entries.push((
            Swatch::Dashed(palette::DIAMETER),
            format!(
                "a new reading lies within, {} %",
                number(100.0 * Curve::READING_CONFIDENCE, 0)
            ),
        ));
    }
    if measured {
        entries.push((
            Swatch::Mark(Mark::Ring, palette::TEXT),
            "ends of the holds, line taken out".to_owned(),
        ));
    }
    legend(&mut figure, (LEFT, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

/// Nominal and rated burst pressure as upright lines, with words above the first panel.
fn limits(figure: &mut Figure, panel: Panel, context: &RunContext, words: bool) {
    let Some(balloon) = &context.balloon else {
        return;
    };
    let look = Type::plain(SMALL).ink(palette::QUIET);
    let mut taken = f64::NEG_INFINITY;
    for (word, value, anchor) in [
        ("nominal", balloon.nominal_pressure_kpa, Anchor::End),
        (
            "rated burst",
            balloon.rated_burst_pressure_kpa,
            Anchor::Start,
        ),
    ] {
        let Some(p) = value.filter(|p| (panel.x.low..=panel.x.high).contains(p)) else {
            continue;
        };
        let x = panel.x.at(p);
        let ends = [(x, panel.top()), (x, panel.bottom())];
        figure.dashed(&ends, palette::QUIET, 1.3, (5.0, 4.0));
        if !words {
            continue;
        }
        let text = format!("{word} {} atm", number(p / KPA_PER_ATM, 1));
        let width = extent(&text, 0.0, look).1;
        // Nominal reads towards its line from the left and rated away from it to the right, unless the edge is near.
        let anchor = match anchor {
            Anchor::End if x - width < panel.left() => Anchor::Start,
            Anchor::Start if x + width > panel.right() => Anchor::End,
            other => other,
        };
        let (from, to) = extent(&text, x, look.anchor(anchor));
        let y = panel.top() - if from < taken { 22.0 } else { 9.0 };
        taken = to + 6.0;
        figure.text(&text, (x, y), look.anchor(anchor));
    }
}
