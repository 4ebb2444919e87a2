//! Each event close up: every raw sample, the interval of the onset, pressure before and after.

use super::PlotError;
use super::axis::{at_least, number, padded, range};
use super::decimate::{MOST_POINTS, stretches};
use super::figure::{Anchor, Figure, Type, capital};
use super::palette;
use super::panel::{HEADING, KPA_PER_ATM, Mark, Panel, SMALL, Swatch, legend, legend_extra};
use super::trace::gap;
use crate::recording::{Event, EventKind, PhaseKind, RunResult, Trace};

const WIDTH: f64 = 540.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 62.0;
const TOP: f64 = 62.0;
const PRESSURE_HEIGHT: f64 = 240.0;
const OTHER_HEIGHT: f64 = 70.0;

/// Samples shown at each side of an event.
const SIDE_SAMPLES: f64 = 15.0;
/// Time shown at each side of a fracture or burst, s: rings of 5 to 20 Hz are seen to begin, edges of tens of ms are seen whole.
const FAST_SIDE_S: f64 = 0.06;
/// Time shown at each side of a slip, s: slips take 50 to 500 ms and may come as several.
const SLIP_SIDE_S: f64 = 1.0;
/// Time shown at each side of a yield, s: it has no edge, so some strokes around it are shown.
const YIELD_SIDE_S: f64 = 5.0;
/// Up to so many samples each is a dot; beyond, dots would merge and the line alone passes through every sample.
const MOST_DOTS: usize = 360;
/// Up to so many samples the line passes through every one. A slow event recorded fast has more and is thinned.
const MOST_RAW: usize = 6000;
/// Least range of volume (mL) shown: a volume that stands still is shown flat, not its noise blown up.
const LEAST_ML: f64 = 0.2;
/// More zooms than this are not drawn for one run.
const MOST_ZOOMS: usize = 12;

/// An event close up.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Zoom {
    /// Position of the event in [`RunResult::events`].
    pub event: usize,
    /// What it shows.
    pub title: String,
    /// The figure.
    pub svg: String,
}

/// A close-up of each event that has a time.
pub fn figures(run: &RunResult, trace: &Trace) -> Vec<Zoom> {
    run.events
        .iter()
        .enumerate()
        .filter_map(|(position, event)| {
            let t = event.t_s.filter(|t| t.is_finite())?;
            let title = format!("{} at {} s", capital(event.kind.word()), number(t, 3));
            let svg = figure(run, trace, event, t, &title).ok().flatten()?;
            Some(Zoom {
                event: position,
                title,
                svg,
            })
        })
        .take(MOST_ZOOMS)
        .collect()
}

/// The time shown around an event.
fn window(event: &Event, run: &RunResult, trace: &Trace, t: f64) -> (f64, f64) {
    let low = event.t_lo_s.filter(|v| v.is_finite()).unwrap_or(t).min(t);
    let mut high = event.t_hi_s.filter(|v| v.is_finite()).unwrap_or(t).max(t);
    // The end of the fall, where the detector knew it.
    if event.after > event.before
        && let Some(end) = trace.time_s.get(event.after)
    {
        high = high.max(*end);
    }
    if event.kind == EventKind::Leak {
        high = high.max(end_of_leak(event, run, trace, high));
    }
    let length = high - low;
    let side = match event.kind {
        EventKind::Fracture | EventKind::Burst => FAST_SIDE_S.max(0.6 * length),
        EventKind::Slip => SLIP_SIDE_S.max(0.6 * length),
        EventKind::Leak => (0.08 * length).max(SLIP_SIDE_S),
        EventKind::Yield => YIELD_SIDE_S.max(0.6 * length),
    };
    let side = side.max(SIDE_SAMPLES * trace.step_s.max(0.0));
    // The deflation after a leak would be the steepest thing in the figure, and is none of it.
    let end = if event.kind == EventKind::Leak {
        high
    } else {
        high + side
    };
    (low - side, end)
}

/// When the pressure has fallen by what the leak is said to have cost, s: a leak takes tens of seconds and has no other end. Not later
/// than the deflation, whose fall is the operator's.
fn end_of_leak(event: &Event, run: &RunResult, trace: &Trace, onset: f64) -> f64 {
    /// The last of the fall is slow and hides in noise; it is not waited for.
    const ENOUGH: f64 = 0.98;
    let last = trace.time_s.last().copied().unwrap_or(onset);
    let deflation = run
        .phases
        .iter()
        .filter(|p| p.kind == PhaseKind::Deflate && p.t_start_s > onset)
        .map(|p| p.t_start_s)
        .fold(last, f64::min);
    let Some((pressure, drop)) = event.pressure.value.zip(event.drop.value) else {
        return deflation;
    };
    let level = pressure - ENOUGH * drop;
    trace
        .time_s
        .iter()
        .zip(&trace.pressure_kpa)
        .find(|(t, p)| **t > onset && **p <= level)
        .map_or(deflation, |(t, _)| t.min(deflation))
}

/// Seconds or milliseconds, whichever reads well for a window of this length.
fn time_unit(length: f64) -> (f64, &'static str) {
    if length < 1.5 {
        (1e3, "Time from the onset (ms)")
    } else {
        (1.0, "Time from the onset (s)")
    }
}

fn figure(
    run: &RunResult,
    trace: &Trace,
    event: &Event,
    t: f64,
    title: &str,
) -> Result<Option<String>, PlotError> {
    let (from, to) = window(event, run, trace, t);
    let first = trace.time_s.partition_point(|v| *v < from);
    let last = trace.time_s.partition_point(|v| *v <= to);
    let (Some(times), Some(pressures)) = (
        trace.time_s.get(first..last),
        trace.pressure_kpa.get(first..last),
    ) else {
        return Ok(None);
    };
    let Some(seen) = range(pressures.iter().copied()) else {
        return Ok(None);
    };
    let (unit, x_label) = time_unit(to - from);
    let x: Vec<f64> = times.iter().map(|v| (v - t) * unit).collect();
    let x_range = ((from - t) * unit, (to - t) * unit);
    let before = event.pressure.value;
    let after = before.zip(event.drop.value).map(|(p, d)| p - d);
    let levels = [before, after].into_iter().flatten();
    let y_range = range(levels.chain([seen.0, seen.1])).unwrap_or(seen);
    let mut others: Vec<(&[f64], &str, palette::Ink)> = Vec::new();
    for (channel, label, ink) in [
        (&trace.volume_ml, "Vol. (mL)", palette::VOLUME),
        (&trace.sound, "Sound (1)", palette::SECOND),
    ] {
        if let Some(values) = channel.as_ref().and_then(|c| c.get(first..last))
            && values.iter().any(|v| v.is_finite())
        {
            others.push((values, label, ink));
        }
    }
    let entries = legend_entries(event.kind, x.len(), before.is_some());
    let top = TOP + legend_extra(LEFT, WIDTH - 8.0, &entries);
    let height = top + PRESSURE_HEIGHT + others.len() as f64 * (OTHER_HEIGHT + 14.0) + 46.0;
    let mut figure = Figure::new(WIDTH, height, format!("Run {}: {title}", run.run_id));
    figure.text(title, (LEFT, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (LEFT, top),
        (WIDTH - RIGHT, top + PRESSURE_HEIGHT),
        x_range,
        padded(y_range, 0.13),
    );
    onset_band(&mut figure, panel, event, t, unit);
    panel.x_axis(&mut figure, others.is_empty().then_some(x_label));
    panel.y_axis(&mut figure, "Pressure (kPa)", palette::PRESSURE);
    panel.right_axis(
        &mut figure,
        "Pressure (atm)",
        KPA_PER_ATM,
        palette::PRESSURE,
    );
    panel.frame(&mut figure);
    samples(&mut figure, panel, trace, &x, pressures, unit);
    draw_levels(&mut figure, panel, event.kind, before, after);
    legend(&mut figure, (LEFT, 42.0), WIDTH - 8.0, &entries);
    let mut y = top + PRESSURE_HEIGHT + 14.0;
    let count = others.len();
    for (i, (values, label, ink)) in others.into_iter().enumerate() {
        let seen = range(values.iter().copied()).unwrap_or((0.0, 1.0));
        let panel = Panel::new(
            (LEFT, y),
            (WIDTH - RIGHT, y + OTHER_HEIGHT),
            x_range,
            padded(at_least(seen, LEAST_ML), 0.1),
        );
        onset_band(&mut figure, panel, event, t, unit);
        panel.x_axis(&mut figure, (i + 1 == count).then_some(x_label));
        panel.y_axis(&mut figure, label, ink);
        panel.frame(&mut figure);
        for part in stretches(&x, values, gap(trace) * unit, MOST_POINTS) {
            panel.line(&mut figure, &part, ink, 1.3);
        }
        y += OTHER_HEIGHT + 14.0;
    }
    figure.finish().map(Some)
}

fn onset_band(figure: &mut Figure, panel: Panel, event: &Event, t: f64, unit: f64) {
    let (Some(low), Some(high)) = (event.t_lo_s, event.t_hi_s) else {
        return;
    };
    // An interval narrower than a pixel and a half would not be seen.
    let pixel = 1.5 * (panel.x.high - panel.x.low) / (panel.right() - panel.left());
    let (low, high) = ((low - t) * unit, (high - t) * unit);
    let short = (pixel - (high - low)).max(0.0) / 2.0;
    panel.band(
        figure,
        low - short,
        high + short,
        palette::EVENT.faded(0.18),
    );
}

/// How the samples are drawn, the interval, and the levels.
fn legend_entries(kind: EventKind, samples: usize, levels: bool) -> Vec<(Swatch, String)> {
    let line = Swatch::Line(palette::PRESSURE, 1.4);
    let drawn = if samples <= MOST_DOTS {
        (Swatch::Mark(Mark::Dot, palette::PRESSURE), "raw samples")
    } else if samples <= MOST_RAW {
        (line, "every raw sample")
    } else {
        (line, "raw, thinned")
    };
    let mut entries = vec![
        (drawn.0, drawn.1.to_owned()),
        (
            Swatch::Field(palette::EVENT.faded(0.18)),
            "interval of the onset".to_owned(),
        ),
    ];
    if levels {
        let words = if kind == EventKind::Yield {
            "level there"
        } else {
            "levels before, after"
        };
        entries.push((Swatch::Line(palette::EVENT, 2.0), words.to_owned()));
    }
    entries
}

/// Draws the samples.
fn samples(
    figure: &mut Figure,
    panel: Panel,
    trace: &Trace,
    x: &[f64],
    pressures: &[f64],
    unit: f64,
) {
    for part in stretches(x, pressures, gap(trace) * unit, MOST_RAW) {
        panel.line(figure, &part, palette::PRESSURE, 0.9);
    }
    if x.len() <= MOST_DOTS {
        for point in x.iter().copied().zip(pressures.iter().copied()) {
            if point.1.is_finite() {
                panel.mark(figure, point, Mark::Dot, 2.1, palette::PRESSURE);
            }
        }
    }
}

/// Pressure before at the left of the onset, pressure after at its right, with the numbers where the curve is not, at the right of the
/// onset: above the level before (below it where pressure goes on rising, at a yield), and below the level after.
fn draw_levels(
    figure: &mut Figure,
    panel: Panel,
    kind: EventKind,
    before: Option<f64>,
    after: Option<f64>,
) {
    let width = panel.right() - panel.left();
    let zero = panel.x.at(0.0);
    let words = |word: &str, p: f64| {
        format!(
            "{word} {} kPa ({} atm)",
            number(p, 0),
            number(p / KPA_PER_ATM, 2)
        )
    };
    let look = Type::plain(SMALL).ink(palette::EVENT);
    if let Some(p) = before {
        let y = panel.y.at(p);
        let from = (zero - 0.14 * width).max(panel.left());
        figure.line([(from, y), (zero, y)], palette::EVENT, 2.0);
        let beside = if kind == EventKind::Yield {
            14.0
        } else {
            -11.0
        };
        let word = if kind == EventKind::Yield {
            "at the onset"
        } else {
            "before"
        };
        figure.text(&words(word, p), (zero + 8.0, y + beside), look);
    }
    if let Some(p) = after {
        let y = panel.y.at(p);
        // A leak reaches its level at the end of what is shown, everything else at once.
        let (from, to) = if kind == EventKind::Leak {
            (panel.right() - 0.25 * width, panel.right())
        } else {
            (zero, (zero + 0.28 * width).min(panel.right()))
        };
        figure.line([(from, y), (to, y)], palette::EVENT, 2.0);
        let text = words("after", p);
        if kind == EventKind::Leak {
            // The curve comes down to the level from above: left of it and below is free.
            figure.text(&text, (from - 8.0, y + 8.0), look.anchor(Anchor::End));
        } else {
            figure.text(&text, (zero + 8.0, y + 12.0), look);
        }
    }
}
