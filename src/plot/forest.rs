//! Groups below each other, each with an estimate and its limits.

use super::PlotError;
use super::axis::{padded, range};
use super::figure::{Anchor, Figure, Type, shorten};
use super::panel::{HEADING, KPA_PER_ATM, Panel, SMALL, draw_mark};
use super::study::{Arm, look};
use crate::recording::{Analysis, Group, Interval};

const WIDTH: f64 = 560.0;
/// Height of a group.
const ROW: f64 = 30.0;
/// Room for names, pixels and letters.
const NAMES: (f64, usize) = (150.0, 22);

/// What is drawn.
#[derive(Clone, Copy)]
pub struct Forest {
    /// Title.
    pub title: &'static str,
    /// Label of the axis, with its unit.
    pub label: &'static str,
    /// True where it is a pressure in kPa, so that atmospheres stand on top.
    pub pressure: bool,
    /// The estimate of a group.
    pub of: fn(&Group) -> Option<&Interval>,
}

/// Every forest plot. A newcomer is a line here.
pub const FORESTS: [Forest; 2] = [
    Forest {
        title: "Median fracture pressure of each group",
        label: "Pressure (kPa)",
        pressure: true,
        of: median,
    },
    Forest {
        title: "Mean diameter after, of each group",
        label: "Diameter (mm)",
        pressure: false,
        of: |group| {
            let mut values = group.values.iter();
            values
                .find(|v| v.quantity == "diameters.after")
                .map(|v| &v.mean)
        },
    },
];

/// Median of the family that describes the fracture pressures best.
fn median(group: &Group) -> Option<&Interval> {
    let fits = group
        .strength
        .iter()
        .filter(|s| s.quantity == "fracture_pressure");
    let best = fits.min_by(|a, b| {
        let behind = |s: &crate::recording::StrengthResult| s.delta_aicc.unwrap_or(0.0);
        behind(a).total_cmp(&behind(b))
    })?;
    let mut quantiles = best.quantiles.iter();
    quantiles.find(|q| q.p == 0.5).map(|q| &q.interval)
}

/// The figure; `None` for fewer than two groups with an estimate.
pub fn figure(
    analysis: &Analysis,
    arms: &[Arm],
    forest: Forest,
) -> Result<Option<String>, PlotError> {
    let rows: Vec<(usize, &str, &Interval, f64)> = arms
        .iter()
        .enumerate()
        .filter_map(|(i, arm)| {
            let group = analysis.groups.iter().find(|g| g.name == arm.name)?;
            let interval = (forest.of)(group)?;
            let value = interval.value.filter(|v| v.is_finite())?;
            Some((i, arm.name.as_str(), interval, value))
        })
        .collect();
    let seen = rows.iter().flat_map(|(_, _, interval, value)| {
        [Some(*value), interval.lower, interval.upper]
            .into_iter()
            .flatten()
    });
    let Some(seen) = range(seen).filter(|_| rows.len() > 1) else {
        return Ok(None);
    };
    let top = if forest.pressure { 66.0 } else { 40.0 };
    let height = top + ROW * rows.len() as f64 + 48.0;
    let mut figure = Figure::new(WIDTH, height, forest.title);
    figure.text(forest.title, (24.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (NAMES.0, top),
        (WIDTH - 24.0, height - 48.0),
        padded(seen, 0.08),
        (-0.5, rows.len() as f64 - 0.5),
    );
    panel.x_axis(&mut figure, Some(forest.label));
    if forest.pressure {
        panel.top_axis(&mut figure, "Pressure (atm)", KPA_PER_ATM);
    }
    panel.frame(&mut figure);
    for (k, (i, name, interval, value)) in rows.iter().enumerate() {
        let (mark, ink) = look(*i);
        // The first group on top.
        let y = (rows.len() - 1 - k) as f64;
        // A limit that the data leave open runs off the edge.
        let low = interval.lower.unwrap_or(panel.x.low);
        let high = interval.upper.unwrap_or(panel.x.high);
        panel.line(&mut figure, &[(low, y), (high, y)], ink, 1.8);
        draw_mark(&mut figure, panel.at(*value, y), mark, 4.5, ink);
        figure.text(
            &shorten(name, NAMES.1),
            (panel.left() - 8.0, panel.y.at(y)),
            Type::plain(SMALL).anchor(Anchor::End),
        );
    }
    figure.finish().map(Some)
}
