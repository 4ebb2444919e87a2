//! Normal plots of measured values, a figure for each: on its axes a normal sample lies on a straight line.

use super::PlotError;
use super::axis::{number, padded, range};
use super::figure::{Anchor, Figure, Type, capital, shorten};
use super::palette;
use super::panel::{HEADING, NORMAL, Panel, SMALL, Swatch, draw_mark, legend, legend_extra};
use super::study::{MOST_ARMS, StudyFigure, look};
use crate::recording::{Analysis, Group, ValueResult};
use crate::stats::normal_quantile;

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 390.0;
/// Shares at which the vertical axis is labelled, %.
const LABELS: [f64; 9] = [1.0, 5.0, 10.0, 25.0, 50.0, 75.0, 90.0, 95.0, 99.0];
/// Fewest values of a group that are drawn.
const FEWEST: usize = 3;
/// A figure for every value of which some group has enough, in the order of the results.
pub fn normal_figures(analysis: &Analysis) -> Vec<StudyFigure> {
    let groups: Vec<&Group> = analysis.groups.iter().take(MOST_ARMS).collect();
    let mut quantities: Vec<&str> = Vec::new();
    for value in groups.iter().flat_map(|group| &group.values) {
        if !quantities.contains(&value.quantity.as_str()) {
            quantities.push(&value.quantity);
        }
    }
    quantities
        .into_iter()
        .filter_map(|quantity| {
            let name = words(quantity);
            Some(StudyFigure {
                caption: format!(
                    "{} against the share below (Blom's positions), on axes where a normal sample is a straight line.",
                    capital(&name)
                ),
                svg: figure(&groups, quantity, &name).ok().flatten()?,
            })
        })
        .collect()
}

/// A path of results in words: `diameters after`.
fn words(quantity: &str) -> String {
    quantity.replace(['_', '.'], " ")
}

/// The figure of a value; `None` where no group has enough of it.
fn figure(groups: &[&Group], quantity: &str, name: &str) -> Result<Option<String>, PlotError> {
    let sets: Vec<(usize, &str, &ValueResult)> = groups
        .iter()
        .enumerate()
        .filter_map(|(i, group)| {
            let value = group.values.iter().find(|v| v.quantity == quantity)?;
            (value.plot.len() >= FEWEST).then_some((i, group.name.as_str(), value))
        })
        .collect();
    let points = || sets.iter().flat_map(|(_, _, value)| value.plot.iter());
    let (Some(x), Some(y)) = (range(points().map(|p| p.0)), range(points().map(|p| p.1))) else {
        return Ok(None);
    };
    let unit = sets.first().map_or("", |(_, _, value)| &value.mean.unit);
    let title = &format!("Normal plot of {name}");
    let entries: Vec<(Swatch, String)> = sets
        .iter()
        .map(|(i, group, _)| {
            let (mark, ink) = look(*i);
            (Swatch::Mark(mark, ink), shorten(group, 30))
        })
        .chain([(
            Swatch::Line(palette::QUIET, 1.8),
            "mean and standard deviation".to_owned(),
        )])
        .collect();
    let extra = legend_extra(76.0, WIDTH - 8.0, &entries);
    let mut figure = Figure::new(WIDTH, HEIGHT + extra, title);
    figure.text(title, (76.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (76.0, 62.0 + extra),
        (WIDTH - 24.0, HEIGHT + extra - 48.0),
        padded(x, 0.08),
        padded(y, 0.1),
    );
    let label = format!("{} ({})", capital(name), unit.replace("m2", "m²"));
    panel.x_axis(&mut figure, Some(&label));
    for percent in LABELS {
        let score = normal_quantile(percent / 100.0);
        if (panel.y.low..=panel.y.high).contains(&score) {
            let y = panel.y.at(score);
            figure.line([(panel.left(), y), (panel.right(), y)], palette::GRID, 1.0);
            let small = Type::plain(SMALL).ink(palette::QUIET).anchor(Anchor::End);
            figure.text(&number(percent, 0), (panel.left() - 6.0, y), small);
        }
    }
    panel.frame(&mut figure);
    let down = f64::midpoint(panel.top(), panel.bottom());
    let upward = Type::plain(NORMAL).anchor(Anchor::Middle).upward();
    figure.text("Share below (%)", (panel.left() - 50.0, down), upward);
    for (i, _, value) in &sets {
        let (mark, ink) = look(*i);
        if let Some((mean, sd)) = value.mean.value.zip(value.sd) {
            let ends = [panel.y.low, panel.y.high].map(|z| (mean + sd * z, z));
            panel.line(&mut figure, &ends, ink, 1.8);
        }
        for &(x, y) in &value.plot {
            draw_mark(&mut figure, panel.at(x, y), mark, 4.0, ink);
        }
    }
    legend(&mut figure, (76.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}
