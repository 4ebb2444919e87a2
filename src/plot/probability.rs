//! Probability plots of fracture pressures, each on the paper of a family, where that family is a straight line.

use super::PlotError;
use super::axis::{number, padded, range};
use super::figure::{Anchor, Figure, Type, capital, shorten};
use super::palette;
use super::panel::{
    HEADING, KPA_PER_ATM, NORMAL, Panel, SMALL, Swatch, draw_mark, legend, legend_extra,
};
use super::study::{Arm, look};
use crate::recording::{Analysis, Group, StrengthResult};
use crate::stats::StrengthModel;

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 390.0;
/// Room for the axis on top.
const TOP_AXIS: f64 = 24.0;
/// Shares at which the vertical axis is labelled, %.
const LABELS: [f64; 9] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 80.0, 95.0, 99.0];
/// Shares between which it runs.
const SHARES: (f64, f64) = (0.008, 0.995);
/// The quantity drawn.
const PRESSURE: &str = "fracture_pressure";

/// The figure of a family; `None` where no group has at least two points and a fit.
pub fn figure(
    analysis: &Analysis,
    arms: &[Arm],
    model: &StrengthModel,
) -> Result<Option<String>, PlotError> {
    let sets: Vec<(usize, &Group, &StrengthResult)> = arms
        .iter()
        .enumerate()
        .filter_map(|(i, arm)| {
            let group = analysis.groups.iter().find(|g| g.name == arm.name)?;
            let name = model.name.to_lowercase();
            let mut fits = group.strength.iter();
            let fit = fits.find(|s| s.quantity == PRESSURE && s.model == name)?;
            (points(group).count() > 1).then_some((i, group, fit))
        })
        .collect();
    let seen = sets.iter().flat_map(|(_, group, _)| {
        points(group).flat_map(|p| [model.abscissa(p.above), model.abscissa(p.up_to)])
    });
    let Some(seen) = range(seen) else {
        return Ok(None);
    };
    let title = format!("{} plot of fracture pressures", capital(model.name));
    let mut entries: Vec<(Swatch, String)> = sets
        .iter()
        .map(|(i, group, _)| {
            let (mark, ink) = look(*i);
            (Swatch::Mark(mark, ink), shorten(&group.name, 30))
        })
        .collect();
    entries.push((
        Swatch::Line(palette::QUIET, 1.8),
        "maximum-likelihood fit".to_owned(),
    ));
    entries.push((Swatch::Dashed(palette::QUIET), "its limits".to_owned()));
    let extra = legend_extra(76.0, WIDTH - 8.0, &entries);
    let height_all = HEIGHT + extra + TOP_AXIS;
    let mut figure = Figure::new(WIDTH, height_all, title.clone());
    figure.text(&title, (76.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (76.0, 62.0 + extra + TOP_AXIS),
        (WIDTH - 24.0, height_all - 48.0),
        padded(seen, 0.12),
        (model.ordinate(SHARES.0), model.ordinate(SHARES.1)),
    );
    axes(&mut figure, panel, model);
    for (i, group, fit) in &sets {
        let (mark, ink) = look(*i);
        curves(&mut figure, panel, model, fit, ink);
        for point in points(group) {
            let y = model.ordinate(point.probability);
            let (from, to) = (model.abscissa(point.above), model.abscissa(point.up_to));
            if to > from {
                panel.line(&mut figure, &[(from, y), (to, y)], ink, 1.3);
            }
            let x = if from.is_finite() {
                f64::midpoint(from, to)
            } else {
                to
            };
            if panel.holds(x, y) {
                draw_mark(&mut figure, panel.at(x, y), mark, 4.0, ink);
            }
        }
    }
    legend(&mut figure, (76.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

fn points(group: &Group) -> impl Iterator<Item = &crate::recording::StrengthPoint> {
    group
        .strength_points
        .iter()
        .filter(|p| p.quantity == PRESSURE)
}

/// The line of the fit through its outermost quantiles, and its limits.
fn curves(
    figure: &mut Figure,
    panel: Panel,
    model: &StrengthModel,
    fit: &StrengthResult,
    ink: palette::Ink,
) {
    let along = |pick: fn(&crate::recording::Interval) -> Option<f64>| -> Vec<(f64, f64)> {
        fit.quantiles
            .iter()
            .filter_map(|q| Some((model.abscissa(pick(&q.interval)?), model.ordinate(q.p))))
            .filter(|(x, _)| x.is_finite())
            .collect()
    };
    let line = along(|i| i.value);
    if let (Some(&(x0, y0)), Some(&(x1, y1))) = (line.first(), line.last())
        && x1 > x0
    {
        let at = |x: f64| (x, y0 + (x - x0) / (x1 - x0) * (y1 - y0));
        panel.line(figure, &[at(panel.x.low), at(panel.x.high)], ink, 1.8);
    }
    for limits in [along(|i| i.lower), along(|i| i.upper)] {
        panel.dashed(figure, &limits, ink, 1.0, (4.0, 4.0));
    }
}

fn axes(figure: &mut Figure, panel: Panel, model: &StrengthModel) {
    let small = Type::plain(SMALL).ink(palette::QUIET);
    for percent in LABELS {
        let y = panel.y.at(model.ordinate(percent / 100.0));
        figure.line([(panel.left(), y), (panel.right(), y)], palette::GRID, 1.0);
        figure.text(
            &number(percent, 0),
            (panel.left() - 6.0, y),
            small.anchor(Anchor::End),
        );
    }
    let (low, high) = (model.value_at(panel.x.low), model.value_at(panel.x.high));
    // Round pressures; on a logarithmic axis those that would touch the one before are left out.
    let mut last = f64::NEG_INFINITY;
    for (p, text) in super::axis::ticks(low, high, 9.0) {
        let x = panel.x.at(model.abscissa(p));
        if x.is_finite() && x - last > 44.0 {
            figure.line([(x, panel.top()), (x, panel.bottom())], palette::GRID, 1.0);
            figure.text(
                &text,
                (x, panel.bottom() + 13.0),
                small.anchor(Anchor::Middle),
            );
            last = x;
        }
    }
    let mut last = f64::NEG_INFINITY;
    for (p, text) in super::axis::ticks(low / KPA_PER_ATM, high / KPA_PER_ATM, 9.0) {
        let x = panel.x.at(model.abscissa(p * KPA_PER_ATM));
        if x.is_finite() && x - last > 40.0 {
            panel.top_tick(figure, x, &text);
            last = x;
        }
    }
    figure.text(
        "Pressure (atm)",
        (panel.right(), panel.top() - 27.0),
        small.anchor(Anchor::End),
    );
    panel.frame(figure);
    let look = Type::plain(NORMAL).anchor(Anchor::Middle);
    let across = f64::midpoint(panel.left(), panel.right());
    let down = f64::midpoint(panel.top(), panel.bottom());
    let label = if model.logarithmic {
        "Pressure (kPa), logarithmic"
    } else {
        "Pressure (kPa)"
    };
    figure.text(label, (across, panel.bottom() + 32.0), look);
    figure.text(
        "Share fractured (%)",
        (panel.left() - 50.0, down),
        look.upward(),
    );
}
