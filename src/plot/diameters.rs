//! Diameters before, loaded and after, method by method, with their uncertainty and what they are to be compared with.

use super::axis::{padded, range};
use super::figure::{Anchor, Figure, Type, shorten};
use super::palette;
use super::panel::{HEADING, NORMAL, Panel, SMALL, Swatch, legend, legend_extra, spread};
use super::study;
use super::{PlotError, RunContext};
use crate::recording::RunResult;

const WIDTH: f64 = 540.0;
const HEIGHT: f64 = 400.0;
const STAGES: [&str; 3] = ["before", "loaded", "after"];
/// Size of a mark, pixels.
const MARK: f64 = 4.0;
/// Further figures of an outline that is drawn by its area, perimeter and inscribed circle already; the table has them.
const ONLY_IN_TABLE: [&str; 4] = [
    "outline_circle",
    "outline_circumscribed",
    "outline_feret_max",
    "outline_feret_min",
];
/// More methods than this would not fit beside each other.
const MOST_METHODS: usize = 12;

/// Value and standard uncertainty at each stage, mm.
type Stages = [Option<(f64, Option<f64>)>; 3];

/// The figure; `None` where no diameter is known.
pub fn figure(run: &RunResult, context: &RunContext) -> Result<Option<String>, PlotError> {
    let Some(diameters) = &run.diameters else {
        return Ok(None);
    };
    let methods: Vec<(&str, Stages)> = diameters
        .by_method
        .iter()
        .filter(|(name, _)| !ONLY_IN_TABLE.contains(&name.as_str()))
        .map(|(name, stages)| {
            let at = |stage| {
                // A method may also tell a shape (ovality, a pure number): that is no diameter.
                let quantity = stages.get(stage).filter(|q| q.unit == "mm")?;
                Some((quantity.value?, quantity.u))
            };
            (name.as_str(), STAGES.map(at))
        })
        .filter(|(_, stages)| stages.iter().any(Option::is_some))
        .take(MOST_METHODS)
        .collect();
    let bars = methods.iter().flat_map(|(_, stages)| {
        stages
            .iter()
            .flatten()
            .flat_map(|(d, u)| [d - 2.0 * u.unwrap_or(0.0), d + 2.0 * u.unwrap_or(0.0)])
    });
    let Some(seen) = range(bars) else {
        return Ok(None);
    };
    let references = references(context, seen);
    let all = range(references.iter().map(|r| r.1).chain([seen.0, seen.1])).unwrap_or(seen);
    let title = "Diameters by method, bars ± 2u";
    let mut figure = Figure::new(WIDTH, HEIGHT, format!("Run {}: {title}", run.run_id));
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let entries: Vec<(Swatch, String)> = methods
        .iter()
        .enumerate()
        .map(|(i, (name, _))| {
            let (mark, ink) = study::look(i);
            let word = shorten(&name.replace('_', " "), 32);
            (Swatch::Mark(mark, ink), word)
        })
        .collect();
    let rows = legend_extra(70.0, WIDTH - 8.0, &entries);

    let right = if references.is_empty() { 24.0 } else { 118.0 };
    let panel = Panel::new(
        (70.0, 62.0 + rows),
        (WIDTH - right, HEIGHT - 48.0),
        (-0.5, 2.5),
        padded(all, 0.08),
    );
    panel.y_axis(&mut figure, "Diameter (mm)", palette::TEXT);
    panel.frame(&mut figure);
    let look = Type::plain(NORMAL).anchor(Anchor::Middle);
    for (i, stage) in STAGES.iter().enumerate() {
        figure.text(stage, (panel.x.at(i as f64), panel.bottom() + 15.0), look);
    }
    let middle = f64::midpoint(panel.left(), panel.right());
    figure.text("Stage of the run", (middle, panel.bottom() + 34.0), look);
    draw_references(&mut figure, panel, &references);
    for (i, (_, stages)) in methods.iter().enumerate() {
        let (mark, ink) = study::look(i);

        let offset = (i as f64 + 0.5) / methods.len() as f64 * 0.7 - 0.35;
        for (stage, value) in stages.iter().enumerate() {
            let Some((d, u)) = value else { continue };
            let x = stage as f64 + offset;
            if let Some(u) = u {
                let bar = [(x, d - 2.0 * u), (x, d + 2.0 * u)];
                panel.line(&mut figure, &bar, ink, 1.4);
                // Caps inside the mark would only spoil its shape.
                let length = panel.y.at(d - 2.0 * u) - panel.y.at(*d);
                for end in bar.into_iter().filter(|_| length > MARK) {
                    let (px, py) = panel.at(end.0, end.1);
                    figure.line([(px - 4.0, py), (px + 4.0, py)], ink, 1.4);
                }
            }
            panel.mark(&mut figure, (x, *d), mark, MARK, ink);
        }
    }
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

/// Reference lines near the measured diameters: one that lies far off would squeeze the data.
fn references(context: &RunContext, (low, high): (f64, f64)) -> Vec<(&'static str, f64)> {
    let room = 0.5 * (high - low).max(2.0);
    let frame = context.frame.as_ref();
    [
        ("true ID", frame.and_then(|f| f.true_id_mm)),
        ("stent ID", frame.and_then(|f| f.stent_id_mm)),
        (
            "balloon nominal",
            context.balloon.as_ref().and_then(|b| b.nominal_diameter_mm),
        ),
    ]
    .into_iter()
    .filter_map(|(word, value)| Some((word, value.filter(|v| v.is_finite())?)))
    .filter(|(_, d)| (low - room..=high + room).contains(d))
    .collect()
}

fn draw_references(figure: &mut Figure, panel: Panel, references: &[(&str, f64)]) {
    let mut heights: Vec<f64> = references.iter().map(|r| panel.y.at(r.1)).collect();
    spread(&mut heights, 15.0, panel.top() + 4.0, panel.bottom() - 4.0);
    for ((word, d), label_y) in references.iter().zip(heights) {
        let y = panel.y.at(*d);
        let ends = [(panel.left(), y), (panel.right(), y)];
        figure.dashed(&ends, palette::REFERENCE, 1.3, (5.0, 4.0));
        let at = panel.right();
        figure.line([(at, y), (at + 7.0, label_y)], palette::REFERENCE, 1.0);
        figure.text(
            word,
            (at + 10.0, label_y),
            Type::plain(SMALL).ink(palette::QUIET),
        );
    }
}
