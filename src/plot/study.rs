//! Figures over all runs: fracture pressures by arm; see also [`super::survival`] and [`super::weibull`].

use super::PlotError;
use super::axis::{padded, range};
use super::figure::{Anchor, Figure, Type, shorten};
use super::palette::{self, Ink};
use super::panel::{
    HEADING, KPA_PER_ATM, MARKS, Mark, NORMAL, Panel, SMALL, Swatch, draw_arrow, draw_mark, legend,
};
use crate::recording::{Analysis, EventKind, Outcome, RunKind, RunResult};

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 390.0;

/// More arms than this are not drawn: the table says it better.
pub const MOST_ARMS: usize = 12;

/// A run as a time-to-event record in pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reached {
    /// Fracture pressure, or the highest pressure of a run that did not fracture, kPa.
    pub pressure_kpa: f64,
    /// True where the frame broke at that pressure.
    pub fractured: bool,
}

/// An arm with the records of its runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Arm {
    /// Name.
    pub name: String,
    /// Records in the order of the runs.
    pub runs: Vec<Reached>,
}

/// Every study figure that has data: title and SVG.
pub fn study_figures(analysis: &Analysis) -> Vec<(String, String)> {
    let arms = arms(analysis);
    [
        (
            "Fracture pressures by arm",
            by_arm(analysis, &arms).ok().flatten(),
        ),
        (
            "Share of frames not yet fractured at a pressure (Kaplan–Meier)",
            super::survival::figure(analysis, &arms).ok().flatten(),
        ),
        (
            "Weibull plot of fracture pressures",
            super::weibull::figure(analysis, &arms).ok().flatten(),
        ),
    ]
    .into_iter()
    .filter_map(|(title, svg)| Some((title.to_owned(), svg?)))
    .collect()
}

/// Marker and colour of the arm at a position.
pub fn look(i: usize) -> (Mark, Ink) {
    (
        MARKS.get(i % MARKS.len()).copied().unwrap_or(Mark::Dot),
        palette::ARMS
            .get(i % palette::ARMS.len())
            .copied()
            .unwrap_or(palette::PRESSURE),
    )
}

/// The arms in the order of the groups, then any arm that only the runs know.
fn arms(analysis: &Analysis) -> Vec<Arm> {
    let mut arms: Vec<Arm> = analysis
        .groups
        .iter()
        .filter(|g| g.by == "arm")
        .map(|g| Arm {
            name: g.name.clone(),
            runs: Vec::new(),
        })
        .collect();
    for run in &analysis.runs {
        let Some((name, record)) = run.arm.as_ref().zip(reached(run)) else {
            continue;
        };
        match arms.iter_mut().find(|a| a.name == *name) {
            Some(arm) => arm.runs.push(record),
            None => arms.push(Arm {
                name: name.clone(),
                runs: vec![record],
            }),
        }
    }
    arms.retain(|arm| !arm.runs.is_empty());
    arms.truncate(MOST_ARMS);
    arms
}

/// Fracture pressure of a fractured run, highest pressure of one that was not; nothing for runs that do not count.
fn reached(run: &RunResult) -> Option<Reached> {
    if run.kind != RunKind::Frame {
        return None;
    }
    let pressure = match run.outcome {
        Outcome::Invalid | Outcome::Reference => None,
        Outcome::Fractured => run
            .events
            .iter()
            .find(|e| e.kind == EventKind::Fracture)
            .and_then(|e| e.pressure.value),
        Outcome::Stretched
        | Outcome::Unchanged
        | Outcome::Burst
        | Outcome::Leak
        | Outcome::Slip => run.highest_pressure.value,
    };
    Some(Reached {
        pressure_kpa: pressure.filter(|p| p.is_finite())?,
        fractured: run.outcome == Outcome::Fractured,
    })
}

fn by_arm(analysis: &Analysis, arms: &[Arm]) -> Result<Option<String>, PlotError> {
    let pressures = arms
        .iter()
        .flat_map(|a| a.runs.iter().map(|r| r.pressure_kpa));
    let Some(seen) = range(pressures) else {
        return Ok(None);
    };
    let title = "Fracture pressures by arm";
    let mut figure = Figure::new(WIDTH, HEIGHT, title);
    figure.text(title, (70.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (70.0, 62.0),
        (WIDTH - 62.0, HEIGHT - 52.0),
        (-0.5, arms.len() as f64 - 0.5),
        padded((seen.0.min(0.9 * seen.1), seen.1), 0.12),
    );
    panel.y_axis(&mut figure, "Pressure (kPa)", palette::TEXT);
    panel.right_axis(&mut figure, "Pressure (atm)", KPA_PER_ATM, palette::TEXT);
    panel.frame(&mut figure);
    let room = (panel.right() - panel.left()) / arms.len() as f64;
    for (i, arm) in arms.iter().enumerate() {
        let (mark, ink) = look(i);
        mean_line(&mut figure, panel, analysis, arm, i, ink);
        for (k, run) in arm.runs.iter().enumerate() {
            // Runs stand side by side in their order, so equal pressures stay apart.
            let offset = (k as f64 + 0.5) / arm.runs.len() as f64 * 0.6 - 0.3;
            let at = panel.at(i as f64 + offset, run.pressure_kpa);
            if run.fractured {
                draw_mark(&mut figure, at, mark, 4.0, ink);
            } else {
                draw_arrow(&mut figure, at, ink);
            }
        }
        let letters = (room / 6.6).max(4.0) as usize;
        figure.text(
            &shorten(&arm.name, letters),
            (panel.x.at(i as f64), panel.bottom() + 15.0),
            Type::plain(SMALL).anchor(Anchor::Middle),
        );
    }
    let middle = f64::midpoint(panel.left(), panel.right());
    figure.text(
        "Arm",
        (middle, panel.bottom() + 36.0),
        Type::plain(NORMAL).anchor(Anchor::Middle),
    );
    let entries = [
        (
            Swatch::Mark(Mark::Dot, palette::QUIET),
            "fractured at".to_owned(),
        ),
        (
            Swatch::Line(palette::QUIET, 2.0),
            "mean of the fractured".to_owned(),
        ),
        (
            Swatch::Arrow(palette::QUIET),
            "no fracture up to".to_owned(),
        ),
    ];
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

fn mean_line(
    figure: &mut Figure,
    panel: Panel,
    analysis: &Analysis,
    arm: &Arm,
    i: usize,
    ink: Ink,
) {
    let mean = analysis
        .groups
        .iter()
        .find(|g| g.by == "arm" && g.name == arm.name)
        .and_then(|g| g.fracture_pressure.mean.value);
    if let Some(mean) = mean {
        let x = i as f64;
        panel.line(figure, &[(x - 0.36, mean), (x + 0.36, mean)], ink, 2.0);
    }
}
