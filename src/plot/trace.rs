//! The whole run over time: pressure, injected volume, optical diameter; phases, events, clipped and missing samples.

use super::axis::{at_least, number, padded, range};
use super::decimate::{GAP_STEPS, MOST_POINTS, stretches};
use super::figure::{Anchor, Figure, Type, extent};
use super::palette::{self, Ink};
use super::panel::{
    HEADING, KPA_PER_ATM, Mark, NORMAL, Panel, SMALL, Swatch, draw_mark, legend, legend_extra,
};
use super::{PlotError, RunContext};
use crate::recording::{PhaseKind, Readings, RunKind, RunResult, Trace};

const WIDTH: f64 = 880.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 62.0;
const PRESSURE_HEIGHT: f64 = 250.0;
const OTHER_HEIGHT: f64 = 96.0;
const BETWEEN: f64 = 16.0;
/// Height of the strip of phases.
const STRIP: f64 = 9.0;
/// Least range of volume (mL) and diameter (mm) shown: noise is not blown up to fill a panel.
const LEAST_RANGE: f64 = 0.5;
/// Height of a row of event labels.
const LABEL_ROW: f64 = 17.0;

/// Phases in the order of a run, for the legend.
const PHASES: &[PhaseKind] = &[
    PhaseKind::Vent,
    PhaseKind::Fill,
    PhaseKind::Switch,
    PhaseKind::Stroke,
    PhaseKind::Hold,
    PhaseKind::Refill,
    PhaseKind::Deflate,
];

/// True where a trace has samples and all its channels are equally long, as every figure relies on.
pub fn usable(trace: &Trace) -> bool {
    let n = trace.len();
    let fits = |channel: &Option<Readings>| channel.as_ref().is_none_or(|c| c.len() == n);
    n > 1
        && trace.pressure_kpa.len() == n
        && trace.clipped.len() == n
        && fits(&trace.volume_ml)
        && fits(&trace.diameter_mm)
        && fits(&trace.sound)
        && fits(&trace.force_n)
        && fits(&trace.temperature_degc)
}

/// Longest step in time that is not a gap, s.
pub fn gap(trace: &Trace) -> f64 {
    if trace.step_s > 0.0 {
        GAP_STEPS * trace.step_s
    } else {
        f64::INFINITY
    }
}

/// One lower panel: values, label, colour.
struct Other<'a> {
    values: &'a [f64],
    label: &'static str,
    ink: Ink,
}

/// The figure; `None` where no pressure sample is finite.
pub fn figure(
    run: &RunResult,
    trace: &Trace,
    context: &RunContext,
) -> Result<Option<String>, PlotError> {
    let (Some(time), Some(pressure)) = (
        range(trace.time_s.iter().copied()),
        range(trace.pressure_kpa.iter().copied()),
    ) else {
        return Ok(None);
    };
    let mut others = Vec::new();
    for (values, label, ink) in [
        (&trace.volume_ml, "Volume (mL)", palette::VOLUME),
        (&trace.diameter_mm, "Diameter (mm)", palette::DIAMETER),
        (&trace.force_n, "Force (N)", palette::SECOND),
        (&trace.temperature_degc, "Temp. (°C)", palette::SECOND),
    ] {
        if let Some(values) = values
            .as_deref()
            .filter(|v| v.iter().any(|x| x.is_finite()))
        {
            others.push(Other { values, label, ink });
        }
    }
    let events = labelled_events(run);
    let x_range = padded(time, 0.005);
    let entries = legend_entries(run, trace);
    let top = 62.0
        + legend_extra(LEFT, WIDTH - RIGHT, &entries)
        + LABEL_ROW * label_rows(&events, x_range) as f64;
    let height = top + PRESSURE_HEIGHT + others.len() as f64 * (OTHER_HEIGHT + BETWEEN) + 48.0;
    let title = match (trace.volume_ml.is_some(), trace.diameter_mm.is_some()) {
        (true, true) => "Pressure, volume and diameter over time",
        (true, false) => "Pressure and volume over time",
        (false, true) => "Pressure and diameter over time",
        (false, false) => "Pressure over time",
    };
    let mut figure = Figure::new(WIDTH, height, format!("Run {}: {title}", run.run_id));
    figure.text(title, (LEFT, 18.0), Type::plain(HEADING).bold());
    let low = pressure.0.min(0.0);
    let panel = Panel::new(
        (LEFT, top),
        (WIDTH - RIGHT, top + PRESSURE_HEIGHT),
        x_range,
        padded((low, pressure.1.max(low + 1.0)), 0.05),
    );
    legend(&mut figure, (LEFT, 42.0), WIDTH - RIGHT, &entries);
    draw_pressure(&mut figure, panel, trace, run, context, others.is_empty());
    let mut y = top + PRESSURE_HEIGHT + BETWEEN;
    let mut panels = vec![panel];
    for (i, other) in others.iter().enumerate() {
        let seen = range(other.values.iter().copied()).unwrap_or((0.0, 1.0));
        let y_range = padded(at_least(seen, LEAST_RANGE), 0.08);
        let panel = Panel::new(
            (LEFT, y),
            (WIDTH - RIGHT, y + OTHER_HEIGHT),
            x_range,
            y_range,
        );
        bands(&mut figure, panel, run);
        panel.x_axis(&mut figure, (i + 1 == others.len()).then_some("Time (s)"));
        panel.y_axis(&mut figure, other.label, other.ink);
        panel.frame(&mut figure);
        curve(&mut figure, panel, trace, other.values, other.ink);
        panels.push(panel);
        y += OTHER_HEIGHT + BETWEEN;
    }
    draw_events(&mut figure, &panels, &events, top);
    figure.finish().map(Some)
}

fn legend_entries(run: &RunResult, trace: &Trace) -> Vec<(Swatch, String)> {
    let mut entries: Vec<(Swatch, String)> = PHASES
        .iter()
        .filter(|kind| run.phases.iter().any(|p| p.kind == **kind))
        .map(|kind| {
            (
                Swatch::Field(palette::phase(*kind)),
                palette::phase_word(*kind).to_owned(),
            )
        })
        .collect();
    if run.events.iter().any(|e| e.t_s.is_some()) {
        entries.push((Swatch::Dashed(palette::EVENT), "event".to_owned()));
    }
    if trace.any_clipped() {
        entries.push((
            Swatch::Line(palette::SECOND, 4.0),
            "clipped: true pressure is higher".to_owned(),
        ));
    }
    if !missing(trace).is_empty() {
        entries.push((Swatch::Striped(palette::MISSING), "no samples".to_owned()));
    }
    entries
}

/// Phases as faint bands.
fn bands(figure: &mut Figure, panel: Panel, run: &RunResult) {
    // Holds stay white: most of a run is holds, and the curve should stand out there.
    for phase in run.phases.iter().filter(|p| p.kind != PhaseKind::Hold) {
        panel.band(
            figure,
            phase.t_start_s,
            phase.t_end_s,
            palette::phase(phase.kind).faded(0.22),
        );
    }
}

fn draw_pressure(
    figure: &mut Figure,
    panel: Panel,
    trace: &Trace,
    run: &RunResult,
    context: &RunContext,
    last: bool,
) {
    bands(figure, panel, run);
    panel.x_axis(figure, last.then_some("Time (s)"));
    panel.y_axis(figure, "Pressure (kPa)", palette::PRESSURE);
    panel.right_axis(figure, "Pressure (atm)", KPA_PER_ATM, palette::PRESSURE);
    for phase in &run.phases {
        let (low, high) = (
            panel.x.at(phase.t_start_s.max(panel.x.low)),
            panel.x.at(phase.t_end_s.min(panel.x.high)),
        );
        if low < high {
            figure.rect(
                (low, panel.top()),
                (high, panel.top() + STRIP),
                palette::phase(phase.kind),
            );
        }
    }
    for (low, high) in missing(trace) {
        panel.striped(figure, low, high, palette::MISSING);
    }
    panel.frame(figure);
    if run.kind != RunKind::Blank
        && let Some(rated) = context
            .balloon
            .as_ref()
            .and_then(|b| b.rated_burst_pressure_kpa)
        && rated < panel.y.high
        && rated > 0.0
    {
        let y = panel.y.at(rated);
        let ends = [(panel.left(), y), (panel.right(), y)];
        figure.dashed(&ends, palette::REFERENCE, 1.2, (2.0, 3.0));
        // Above its line, or below it where the strip of phases is in the way.
        let above = y - 18.0 > panel.top() + STRIP;
        figure.label(
            &format!(
                "rated burst pressure {} atm",
                number(rated / KPA_PER_ATM, 1)
            ),
            (panel.left() + 8.0, if above { y - 9.0 } else { y + 10.0 }),
            Type::plain(SMALL).ink(palette::QUIET),
        );
    }
    curve(figure, panel, trace, &trace.pressure_kpa, palette::PRESSURE);
    for part in clipped(trace) {
        panel.line(figure, &part, palette::SECOND, 4.0);
    }
}

fn curve(figure: &mut Figure, panel: Panel, trace: &Trace, values: &[f64], ink: Ink) {
    for part in stretches(&trace.time_s, values, gap(trace), MOST_POINTS) {
        if let [only] = part.as_slice() {
            panel.mark(figure, *only, Mark::Dot, 1.0, ink);
        }
        panel.line(figure, &part, ink, 1.4);
    }
}

/// Stretches at the limit of the transducer, each from its first to its last sample.
fn clipped(trace: &Trace) -> Vec<Vec<(f64, f64)>> {
    /// More stretches than this are drawn as one thinned line each; beyond it the rest is left to the findings.
    const MOST: usize = 300;
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut open = false;
    for ((t, p), at_limit) in trace
        .time_s
        .iter()
        .zip(&trace.pressure_kpa)
        .zip(&trace.clipped)
    {
        if *at_limit && p.is_finite() {
            // A single clipped sample still has a width one can see.
            let end = t + trace.step_s.max(0.0);
            let full = parts.len() == MOST;
            match parts.last_mut() {
                Some(part) if open => {
                    if part.len() > 1 {
                        part.truncate(1);
                    }
                    part.push((end, *p));
                }
                _ if full => break,
                _ => parts.push(vec![(*t, *p), (end, *p)]),
            }
        }
        open = *at_limit;
    }
    parts
}

/// Stretches without pressure samples: gaps in time and runs of missing values.
fn missing(trace: &Trace) -> Vec<(f64, f64)> {
    const MOST: usize = 300;
    let limit = gap(trace);
    let mut holes: Vec<(f64, f64)> = Vec::new();
    let mut last_good: Option<f64> = None;
    for (t, p) in trace.time_s.iter().zip(&trace.pressure_kpa) {
        if p.is_finite() {
            if let Some(last) = last_good
                && t - last > limit
                && holes.len() < MOST
            {
                holes.push((last, *t));
            }
            last_good = Some(*t);
        }
    }
    if let (Some(last), Some(end)) = (last_good, trace.time_s.last())
        && end - last > limit
    {
        holes.push((last, *end));
    }
    holes
}

/// An event with the time it is drawn at and its label.
struct Labelled {
    t: f64,
    label: String,
}

fn labelled_events(run: &RunResult) -> Vec<Labelled> {
    /// A run with more events than this has no room for words; the rest gets a line only.
    const MOST_LABELS: usize = 8;
    run.events
        .iter()
        .filter_map(|event| event.t_s.filter(|t| t.is_finite()).map(|t| (t, event)))
        .enumerate()
        .map(|(i, (t, event))| {
            let word = event.kind.word();
            let label = match event.pressure.value {
                _ if i >= MOST_LABELS => String::new(),
                Some(p) => format!(
                    "{word} {} atm ({} kPa)",
                    number(p / KPA_PER_ATM, 2),
                    number(p, 0)
                ),
                None => word.to_owned(),
            };
            Labelled { t, label }
        })
        .collect()
}

/// Row of each label, from the bottom up, such that none overlaps another: the lowest row with room.
fn rows(events: &[Labelled], x_range: (f64, f64)) -> Vec<(usize, f64, Anchor)> {
    let panel = Panel::new((LEFT, 0.0), (WIDTH - RIGHT, 1.0), x_range, (0.0, 1.0));
    let mut taken: Vec<Vec<(f64, f64)>> = Vec::new();
    events
        .iter()
        .map(|event| {
            let x = panel.x.at(event.t);
            let width = super::font::width(&event.label, NORMAL, false);
            let anchor = if x + width + 8.0 > WIDTH - 4.0 {
                Anchor::End
            } else {
                Anchor::Start
            };
            let (from, to) = extent(&event.label, x, Type::plain(NORMAL).anchor(anchor));
            // The stem of a later event also needs room beside an earlier label.
            let (from, to) = (from - 8.0, to + 8.0);
            let free = |row: &Vec<(f64, f64)>| row.iter().all(|(a, b)| to < *a || from > *b);
            let row = taken.iter().position(free).unwrap_or(taken.len());
            if row == taken.len() {
                taken.push(Vec::new());
            }
            if let Some(spans) = taken.get_mut(row) {
                spans.push((from, to));
            }
            (row, x, anchor)
        })
        .collect()
}

fn label_rows(events: &[Labelled], x_range: (f64, f64)) -> usize {
    rows(events, x_range)
        .iter()
        .map(|(row, ..)| row + 1)
        .max()
        .unwrap_or(0)
}

fn draw_events(figure: &mut Figure, panels: &[Panel], events: &[Labelled], top: f64) {
    let Some(first) = panels.first() else { return };
    let placed = rows(events, (first.x.low, first.x.high));
    for (row, x, _) in &placed {
        let stem = top - 6.0 - LABEL_ROW * *row as f64;
        figure.line([(*x, stem), (*x, top)], palette::EVENT, 1.2);
        for panel in panels {
            let ends = [(*x, panel.top()), (*x, panel.bottom())];
            figure.dashed(&ends, palette::EVENT, 1.2, (5.0, 4.0));
        }
    }
    // Words last, so that no stem runs through them.
    for ((row, x, anchor), event) in placed.iter().zip(events) {
        let y = top - 10.0 - LABEL_ROW * *row as f64;
        let shift = if *anchor == Anchor::End { -6.0 } else { 6.0 };
        let look = Type::plain(NORMAL).ink(palette::EVENT).anchor(*anchor);
        figure.label(&event.label, (x + shift, y), look);
        draw_mark(figure, (*x, y), Mark::Diamond, 2.6, palette::EVENT);
    }
}
