//! Load on the frame against its diameter, in the order of time.

use super::PlotError;
use super::axis::{at_least, number, padded, range};
use super::figure::{Anchor, Figure, Type, extent};
use super::palette::{self, Ink};
use super::panel::{HEADING, Mark, NORMAL, Panel, Swatch, legend};
use crate::recording::{Event, EventKind, FrameResult, RunResult};

const WIDTH: f64 = 540.0;
const HEIGHT: f64 = 400.0;

/// Least range of diameter shown, mm: the noise of a frame that hardly moves is not blown up to a hysteresis.
const LEAST_MM: f64 = 0.5;
/// Up to so many points each is a dot; beyond, dots would merge.
const MOST_DOTS: usize = 80;

/// A point of the curve: time (s, where known), diameter (mm), load (kPa).
#[derive(Debug, Clone, Copy, PartialEq)]
struct Point {
    t: Option<f64>,
    d: f64,
    load: f64,
}

/// The frame curve; `None` without one.
pub fn figure(run: &RunResult) -> Result<Option<String>, PlotError> {
    let Some(frame) = &run.frame else {
        return Ok(None);
    };
    let points = points(frame);
    let (Some(d), Some(p)) = (
        range(points.iter().map(|q| q.d)),
        range(points.iter().map(|q| q.load)),
    ) else {
        return Ok(None);
    };
    let title = "Load on the frame against its diameter";
    let mut figure = Figure::new(WIDTH, HEIGHT, format!("Run {}: {title}", run.run_id));
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (70.0, 62.0),
        (WIDTH - 24.0, HEIGHT - 48.0),
        padded(at_least(d, LEAST_MM), 0.08),
        padded((p.0.min(0.0), p.1.max(1.0)), 0.10),
    );
    panel.x_axis(&mut figure, Some("Diameter of the frame (mm)"));
    panel.y_axis(&mut figure, "Load on the frame (kPa)", palette::PRESSURE);
    panel.frame(&mut figure);
    let events = breaks(run);
    let pieces = pieces(&points, &events);
    let mut entries = vec![(
        Swatch::Line(palette::PRESSURE, 1.8),
        "points at rest".to_owned(),
    )];
    for (i, piece) in pieces.iter().enumerate() {
        let ink = ink(i);
        if i == 1 && !piece.is_empty() {
            entries.push((Swatch::Line(ink, 1.8), after_words(&events)));
        }
        let line: Vec<(f64, f64)> = piece.iter().map(|q| (q.d, q.load)).collect();
        panel.line(&mut figure, &line, ink, 1.8);
        if points.len() <= MOST_DOTS {
            for point in line {
                panel.mark(&mut figure, point, Mark::Dot, 2.4, ink);
            }
        }
    }
    for pair in pieces.windows(2) {
        if let [before, after] = pair
            && let (Some(a), Some(b)) = (before.last(), after.first())
        {
            let jump = [(a.d, a.load), (b.d, b.load)];
            panel.dashed(&mut figure, &jump, palette::REFERENCE, 1.2, (4.0, 4.0));
        }
    }
    mark_yield(&mut figure, panel, frame);
    mark_breaks(&mut figure, panel, &pieces, &events);
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

fn points(frame: &FrameResult) -> Vec<Point> {
    let curve = &frame.curve;
    curve
        .diameter_mm
        .iter()
        .zip(&curve.pressure_kpa)
        .enumerate()
        .map(|(i, (d, load))| Point {
            t: frame.curve_time_s.get(i).copied(),
            d: *d,
            load: *load,
        })
        .filter(|q| q.d.is_finite() && q.load.is_finite())
        .collect()
}

/// The events that part the curve, in the order of time.
fn breaks(run: &RunResult) -> Vec<(f64, &Event)> {
    let mut events: Vec<(f64, &Event)> = run
        .events
        .iter()
        .filter(|e| e.kind != EventKind::Yield)
        .filter_map(|e| e.t_s.filter(|t| t.is_finite()).map(|t| (t, e)))
        .collect();
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    events
}

/// The curve cut at the events: one piece more than there are events, some perhaps empty. Without times it is one piece.
fn pieces(points: &[Point], events: &[(f64, &Event)]) -> Vec<Vec<Point>> {
    let mut pieces = vec![Vec::new(); events.len() + 1];
    for point in points {
        let place = point
            .t
            .map_or(0, |t| events.iter().filter(|(at, _)| *at < t).count());
        if let Some(piece) = pieces.get_mut(place) {
            piece.push(*point);
        }
    }
    pieces
}

fn ink(piece: usize) -> Ink {
    if piece == 0 {
        palette::PRESSURE
    } else {
        palette::VOLUME
    }
}

fn after_words(events: &[(f64, &Event)]) -> String {
    events
        .first()
        .map_or_else(String::new, |(_, e)| format!("after the {}", e.kind.word()))
}

fn mark_yield(figure: &mut Figure, panel: Panel, frame: &FrameResult) {
    if let (Some(d), Some(p)) = (frame.yield_diameter.value, frame.yield_load.value)
        && panel.holds(d, p)
    {
        let (x, y) = panel.at(d, p);
        panel.mark(figure, (d, p), Mark::Square, 4.0, palette::SECOND);
        let look = Type::plain(NORMAL).ink(palette::SECOND);
        figure.text(
            &format!("yield at {} kPa", number(p, 0)),
            (x + 9.0, y + 14.0),
            look,
        );
    }
}

/// The last point at rest before each event, with its word where there is room. The event itself lies a little higher: between two
/// rests.
fn mark_breaks(figure: &mut Figure, panel: Panel, pieces: &[Vec<Point>], events: &[(f64, &Event)]) {
    /// Height a word takes, pixels.
    const HIGH: f64 = 15.0;
    let mut taken: Vec<(f64, f64, f64)> = Vec::new();
    for (piece, (_, event)) in pieces.iter().zip(events) {
        let Some(last) = piece.last() else { continue };
        let place = (last.d, last.load);
        panel.mark(figure, place, Mark::Diamond, 4.5, palette::EVENT);
        let (x, y) = panel.at(last.d, last.load);
        let words = format!("last before {}", event.kind.word());
        let look = Type::plain(NORMAL).ink(palette::EVENT);
        let sides = [(Anchor::Start, 10.0), (Anchor::End, -10.0)];
        let free = [-8.0, 14.0, -22.0].into_iter().find_map(|down| {
            sides.into_iter().find_map(|(anchor, aside)| {
                let (from, to) = extent(&words, x + aside, look.anchor(anchor));
                let inside = from > panel.left() && to < panel.right();
                let clear = taken
                    .iter()
                    .all(|(a, b, at)| to < *a || from > *b || (at - y - down).abs() > HIGH);
                (inside && clear).then_some((anchor, aside, down, from, to))
            })
        });
        if let Some((anchor, aside, down, from, to)) = free {
            figure.text(&words, (x + aside, y + down), look.anchor(anchor));
            taken.push((from, to, y + down));
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::recording::Grade;
    use crate::uncertain::Quantity;

    fn event(t: f64) -> Event {
        let none = |unit| Quantity::missing(unit, "not in this test");
        Event {
            kind: EventKind::Fracture,
            t_s: Some(t),
            t_lo_s: None,
            t_hi_s: None,
            sample: None,
            pressure: none("kPa"),
            drop: none("kPa"),
            volume: none("mL"),
            pressures: Vec::new(),
            confidence: 1.0,
            log_odds: Vec::new(),
            grade: Grade::TraceOnly,
            evidence: Vec::new(),
            before: 0,
            after: 0,
        }
    }

    /// The last point of each piece is the last rest before its event, whatever the diameters do.
    #[test]
    fn the_curve_is_parted_in_time() {
        let points: Vec<Point> = [(1.0, 20.0), (2.0, 20.5), (3.0, 22.0), (5.0, 21.9)]
            .into_iter()
            .map(|(t, d)| Point {
                t: Some(t),
                d,
                load: 100.0 * t,
            })
            .collect();
        let (first, second) = (event(2.5), event(4.0));
        let parts = pieces(&points, &[(2.5, &first), (4.0, &second)]);
        let last: Vec<f64> = parts.iter().map(|p| p.last().unwrap().d).collect();
        assert_eq!(last, [20.5, 22.0, 21.9]);
        let untimed = [Point {
            t: None,
            d: 1.0,
            load: 1.0,
        }];
        assert_eq!(pieces(&untimed, &[(2.5, &first)])[0].len(), 1);
    }
}
