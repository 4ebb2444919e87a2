//! One page that says the most about a run: trace, first event, loop and frame curve.

use super::figure::{clean, escape};
use super::palette;
use super::{RunFigures, Zoom};
use crate::recording::{EventKind, RunResult};
use std::fmt::Write as _;

/// Width of the page, pixels.
const WIDTH: f64 = 1000.0;
/// Space at the edges and between figures.
const SPACE: f64 = 16.0;

/// The page of a run as one SVG document: the trace over the whole width, below it in two columns the first event, the loop, the
/// frame curve, and for blank and free runs the line and the balloon. A run without figures gives a page that says so.
pub fn overview(run: &RunResult, figures: &RunFigures) -> String {
    let title = escape(&clean(&format!(
        "Run {}: {}",
        run.run_id,
        run.outcome.word()
    )));
    let reason = super::figure::capital(&run.outcome_reason);
    let reason = escape(&clean(&super::figure::shorten(&reason, 150)));
    let (mut body, mut y) = (String::new(), 68.0);
    if let Some(trace) = &figures.trace {
        y += place(&mut body, trace, SPACE, y, WIDTH - 2.0 * SPACE) + SPACE;
    }
    let small: Vec<&String> = telling(run, figures)
        .into_iter()
        .chain(&figures.loop_)
        .chain(&figures.frame)
        .chain(&figures.balloon)
        .chain(&figures.line)
        .chain(&figures.diameters)
        .collect();
    let column = (WIDTH - 3.0 * SPACE) / 2.0;
    for pair in small.chunks(2) {
        let mut tallest = 0.0f64;
        for (svg, x) in pair.iter().zip([SPACE, 2.0 * SPACE + column]) {
            tallest = tallest.max(place(&mut body, svg, x, y, column));
        }
        y += tallest + SPACE;
    }
    if body.is_empty() {
        let _ = writeln!(
            body,
            "<text x=\"{SPACE}\" y=\"{}\" font-size=\"13\" fill=\"{}\">No recording and no curves to draw.</text>",
            y + 10.0,
            hex(palette::QUIET)
        );
        y += 30.0;
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {y}\" width=\"{WIDTH}\" height=\"{y}\" role=\"img\" \
         aria-label=\"{title}\" font-family=\"{}\">\n<title>{title}</title>\n\
         <rect width=\"{WIDTH}\" height=\"{y}\" fill=\"#FFFFFF\"/>\n\
         <text x=\"{SPACE}\" y=\"30\" font-size=\"18\" font-weight=\"bold\" fill=\"{}\">{title}</text>\n\
         <text x=\"{SPACE}\" y=\"51\" font-size=\"11\" fill=\"{}\">{reason}</text>\n{body}</svg>\n",
        super::font::FAMILY,
        hex(palette::TEXT),
        hex(palette::QUIET),
    )
}

/// The close-ups that say most: of what broke or gave way, at most two; else of the first event there is.
fn telling<'a>(run: &RunResult, figures: &'a RunFigures) -> Vec<&'a String> {
    let gave_way = |zoom: &&Zoom| {
        run.events
            .get(zoom.event)
            .is_some_and(|e| e.kind != EventKind::Yield)
    };
    let mut most: Vec<&Zoom> = figures.zooms.iter().filter(gave_way).take(2).collect();
    if most.is_empty() {
        most.extend(figures.zooms.first());
    }
    most.into_iter().map(|zoom| &zoom.svg).collect()
}

fn hex(ink: palette::Ink) -> String {
    let (r, g, b) = ink.rgb;
    format!("#{r:02X}{g:02X}{b:02X}")
}

/// Sets a figure at a place, scaled to a width; gives its height there. A figure is known by the root element this crate writes.
fn place(body: &mut String, svg: &str, x: f64, y: f64, width: f64) -> f64 {
    let size = |name: &str| -> Option<f64> {
        let head = svg.split_once('>')?.0;
        let rest = head.split_once(&format!(" {name}=\""))?.1;
        rest.split_once('"')?.0.parse().ok()
    };
    let (Some(w), Some(h)) = (size("width"), size("height")) else {
        return 0.0;
    };
    let height = (h * width / w * 100.0).round() / 100.0;
    let inner = svg
        .replacen(
            &format!(" width=\"{w}\" height=\"{h}\""),
            &format!(" x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\""),
            1,
        )
        .replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1);
    body.push_str(&inner);
    height
}
