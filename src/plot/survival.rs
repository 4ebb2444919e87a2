//! The survival curve of each group with its limits: the share of frames not yet fractured at a pressure.

use super::PlotError;
use super::axis::range;
use super::figure::{Figure, Type, shorten};
use super::palette;
use super::panel::{HEADING, KPA_PER_ATM, Panel, Swatch, legend, legend_extra};
use super::study::{Arm, look};
use crate::recording::{Analysis, KaplanMeierResult};

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 390.0;
/// Room for the axis on top.
const TOP_AXIS: f64 = 24.0;

/// The figure; `None` where no arm has a curve.
pub fn figure(analysis: &Analysis, arms: &[Arm]) -> Result<Option<String>, PlotError> {
    let curves: Vec<(usize, &Arm, &KaplanMeierResult)> = arms
        .iter()
        .enumerate()
        .filter_map(|(i, arm)| {
            let group = analysis.groups.iter().find(|g| g.name == arm.name)?;
            Some((i, arm, &group.kaplan_meier))
        })
        .collect();
    let pressures = curves
        .iter()
        .flat_map(|(_, arm, _)| arm.runs.iter().map(|r| r.pressure_kpa));
    let Some((lowest, highest)) = range(pressures).filter(|r| r.1 > 0.0) else {
        return Ok(None);
    };
    // The flat part below the first fracture says nothing; a little of it is kept.
    let start = if lowest > 0.25 * highest {
        0.85 * lowest
    } else {
        0.0
    };
    let title = "Share of frames not yet fractured";
    let mut entries: Vec<(Swatch, String)> = curves
        .iter()
        .map(|(i, arm, _)| {
            let (_, ink) = look(*i);
            let swatch = if i % 2 == 0 {
                Swatch::Line(ink, 2.2)
            } else {
                Swatch::Dashed(ink)
            };
            (swatch, shorten(&arm.name, 30))
        })
        .collect();
    entries.push((
        Swatch::Censored(palette::QUIET),
        "no fracture up to there".to_owned(),
    ));
    let extra = legend_extra(70.0, WIDTH - 8.0, &entries);
    let height = HEIGHT + extra + TOP_AXIS;
    let mut figure = Figure::new(WIDTH, height, title);
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (70.0, 62.0 + extra + TOP_AXIS),
        (WIDTH - 24.0, height - 48.0),
        (start, highest + 0.06 * (highest - start)),
        (-0.04, 1.04),
    );
    panel.x_axis(&mut figure, Some("Pressure (kPa)"));
    panel.top_axis(&mut figure, "Pressure (atm)", KPA_PER_ATM);
    panel.y_axis(&mut figure, "Share not fractured (1)", palette::TEXT);
    panel.frame(&mut figure);
    for (i, arm, curve) in curves {
        let (_, ink) = look(i);
        for limits in [&curve.lower, &curve.upper] {
            band(&mut figure, panel, curve, limits, ink);
        }
        let steps = steps(curve, arm);
        if i % 2 == 0 {
            panel.line(&mut figure, &steps, ink, 2.2);
        } else {
            panel.dashed(&mut figure, &steps, ink, 2.2, (9.0, 4.0));
        }
        for run in arm.runs.iter().filter(|r| !r.fractured) {
            let (x, y) = panel.at(run.pressure_kpa, height_at(curve, run.pressure_kpa));
            figure.line([(x, y - 6.0), (x, y + 6.0)], ink, 1.6);
        }
    }
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

/// A limit of the curve as thin steps, where it is known.
fn band(
    figure: &mut Figure,
    panel: Panel,
    curve: &KaplanMeierResult,
    limits: &[Option<f64>],
    ink: palette::Ink,
) {
    let known: Vec<(f64, f64)> = curve
        .pressure_kpa
        .iter()
        .zip(limits)
        .filter_map(|(p, limit)| Some((*p, (*limit)?)))
        .collect();
    let mut corners = Vec::new();
    for pair in known.windows(2) {
        if let [(from, share), (to, _)] = *pair {
            corners.extend([(from, share), (to, share)]);
        }
    }
    corners.extend(known.last());
    panel.line(figure, &corners, ink.faded(0.5), 1.0);
}

/// Corners of the step curve, up to the highest pressure of the arm.
fn steps(curve: &KaplanMeierResult, arm: &Arm) -> Vec<(f64, f64)> {
    let mut corners = vec![(0.0, 1.0)];
    let mut share = 1.0;
    for (p, s) in curve.pressure_kpa.iter().zip(&curve.surviving) {
        corners.push((*p, share));
        corners.push((*p, *s));
        share = *s;
    }
    if let Some((_, end)) = range(arm.runs.iter().map(|r| r.pressure_kpa)) {
        corners.push((end, share));
    }
    corners
}

/// Share at a pressure.
fn height_at(curve: &KaplanMeierResult, pressure: f64) -> f64 {
    curve
        .pressure_kpa
        .iter()
        .zip(&curve.surviving)
        .take_while(|(p, _)| **p <= pressure)
        .last()
        .map_or(1.0, |(_, s)| *s)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plot::study::Reached;
    use crate::recording::Interval;

    #[test]
    fn steps_fall_at_fractures_and_run_to_the_last_censored() {
        let curve = KaplanMeierResult {
            pressure_kpa: vec![10.0, 20.0],
            surviving: vec![0.75, 0.375],
            lower: vec![None; 2],
            upper: vec![None; 2],
            median: Interval {
                value: Some(20.0),
                lower: None,
                upper: None,
                confidence: 0.95,
                unit: "kPa".to_owned(),
                method: "product limit".to_owned(),
            },
        };
        let at = |pressure_kpa, fractured| Reached {
            pressure_kpa,
            fractured,
        };
        let arm = Arm {
            name: "a".to_owned(),
            runs: vec![
                at(10.0, true),
                at(12.0, false),
                at(20.0, true),
                at(30.0, false),
            ],
            without_pressure: 0,
            kept: Vec::new(),
        };
        assert_eq!(
            steps(&curve, &arm),
            [
                (0.0, 1.0),
                (10.0, 1.0),
                (10.0, 0.75),
                (20.0, 0.75),
                (20.0, 0.375),
                (30.0, 0.375)
            ]
        );
        assert_eq!(height_at(&curve, 12.0), 0.75);
    }
}
