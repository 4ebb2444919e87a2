//! Fracture against a dose: every frame as broken or whole, and the curves fitted to them.

use super::PlotError;
use super::axis::{padded, range};
use super::figure::{Figure, Type, shorten};
use super::palette;
use super::panel::{HEADING, Panel, Swatch, draw_mark, legend, legend_extra};
use super::study::{Arm, look};
use crate::recording::{Analysis, DoseResult};

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 360.0;
/// Points of a curve.
const POINTS: usize = 80;

/// A dose: its quantity in the results, what it is called, and its axis.
pub struct Against {
    quantity: String,
    title: String,
    axis: String,
    /// What stands below the figure.
    pub caption: &'static str,
}

impl Against {
    fn of(dose: &DoseResult) -> Self {
        let (title, axis, caption) = match dose.quantity.as_str() {
            "oversize_true_id" => (
                "oversize".to_owned(),
                "Oversize over the true inner diameter".to_owned(),
                "Every frame at the oversize it was brought to, broken (above) or whole (below).",
            ),
            "pressure" => (
                "pressure".to_owned(),
                "Pressure of the staircase".to_owned(),
                "Every frame at the level of its staircase, broken (above) or whole (below).",
            ),
            planned => (
                planned.replace('_', " "),
                format!("Level of {}", planned.replace('_', " ")),
                "Every frame at what was planned before its run, broken (above) or whole (below).",
            ),
        };
        Self {
            quantity: dose.quantity.clone(),
            title: format!("Probability of fracture against {title}"),
            axis: format!("{axis} ({})", dose.unit),
            caption,
        }
    }
}

/// Everything that the groups have a curve against, each once, in the order of the results.
pub fn doses(analysis: &Analysis) -> Vec<Against> {
    let mut all: Vec<Against> = Vec::new();
    for dose in analysis.groups.iter().flat_map(|group| &group.dose) {
        if all.iter().all(|seen| seen.quantity != dose.quantity) {
            all.push(Against::of(dose));
        }
    }
    all
}

/// The figure; `None` where no group has a curve.
pub fn figure(
    analysis: &Analysis,
    arms: &[Arm],
    against: &Against,
) -> Result<Option<String>, PlotError> {
    // The logit curve of each group, by maximum likelihood where that exists.
    let curves: Vec<(usize, &Arm, &DoseResult)> = arms
        .iter()
        .enumerate()
        .filter_map(|(i, arm)| {
            let group = analysis.groups.iter().find(|g| g.name == arm.name)?;
            let curve = group
                .dose
                .iter()
                .find(|d| d.curve == "logit" && d.quantity == against.quantity)?;
            Some((i, arm, curve))
        })
        .collect();
    let seen = curves
        .iter()
        .flat_map(|(_, _, dose)| dose.outcomes.iter().map(|o| o.0));
    let Some(seen) = range(seen) else {
        return Ok(None);
    };
    let title = against.title.as_str();
    let mut entries: Vec<(Swatch, String)> = curves
        .iter()
        .map(|(i, arm, dose)| {
            let (mark, ink) = look(*i);
            let words = format!("{} ({})", shorten(&arm.name, 24), dose.estimate);
            (Swatch::Mark(mark, ink), words)
        })
        .collect();
    entries.push((
        Swatch::Line(palette::QUIET, 1.8),
        "logit curve; bar: half fracture, with limits".to_owned(),
    ));
    let extra = legend_extra(70.0, WIDTH - 8.0, &entries);
    let height = HEIGHT + extra;
    let mut figure = Figure::new(WIDTH, height, title);
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (70.0, 62.0 + extra),
        (WIDTH - 24.0, height - 48.0),
        padded(seen, 0.1),
        (-0.08, 1.08),
    );
    panel.x_axis(&mut figure, Some(&against.axis));
    panel.y_axis(&mut figure, "Probability of fracture (1)", palette::TEXT);
    panel.frame(&mut figure);
    for (i, _, dose) in &curves {
        let (mark, ink) = look(*i);
        let spread = dose.spread.value.filter(|spread| *spread > 0.0);
        if let Some((ed50, spread)) = dose.ed50.value.zip(spread) {
            let step = (panel.x.high - panel.x.low) / POINTS as f64;
            let line: Vec<(f64, f64)> = (0..=POINTS)
                .map(|k| panel.x.low + step * k as f64)
                .map(|x| (x, 1.0 / (1.0 + (-(x - ed50) / spread).exp())))
                .collect();
            panel.line(&mut figure, &line, ink, 1.8);
            let low = dose.ed50.lower.unwrap_or(panel.x.low);
            let high = dose.ed50.upper.unwrap_or(panel.x.high);
            panel.line(&mut figure, &[(low, 0.5), (high, 0.5)], ink, 1.8);
        }
        // Groups stand a little apart, so that none hides another.
        let aside = 0.015 * (*i % 4) as f64;
        for &(x, broke) in &dose.outcomes {
            let y = if broke { 1.0 + aside } else { -aside };
            draw_mark(&mut figure, panel.at(x, y), mark, 3.6, ink);
        }
    }
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}
