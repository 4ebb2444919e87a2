//! Figures over all runs: fracture pressures by group, and the list of all others.

use super::PlotError;
use super::axis::{padded, range};
use super::figure::{Anchor, Figure, Type, shorten};
use super::forest::FORESTS;
use super::palette::{self, Ink};
use super::panel::{
    HEADING, KPA_PER_ATM, MARKS, Mark, NORMAL, Panel, SMALL, Swatch, draw_arrow, draw_mark, legend,
};
use crate::recording::{Analysis, Outcome, PressureDefinition, RunResult};
use crate::stats::STRENGTH_MODELS;
use std::collections::BTreeMap;

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

/// A group of the study with the records of its runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Arm {
    /// Name.
    pub name: String,
    /// Records in the order of the runs.
    pub runs: Vec<Reached>,
    /// Runs that fractured or held at a pressure nobody knows: they are in no figure of pressures.
    pub without_pressure: usize,
    /// Diameters of the runs that have both.
    pub kept: Vec<Kept>,
}

/// Diameter of a frame before and after its run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kept {
    /// Before, mm.
    pub before_mm: f64,
    /// After, mm.
    pub after_mm: f64,
    /// True where the frame broke.
    pub fractured: bool,
}

/// A figure over all runs.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct StudyFigure {
    /// What it shows and how to read it.
    pub caption: String,
    /// The figure.
    pub svg: String,
}

/// Every study figure that has data.
pub fn study_figures(analysis: &Analysis) -> Vec<StudyFigure> {
    let mut arms = arms(analysis);
    let left_out = left_out(&arms);
    arms.retain(|arm| !arm.runs.is_empty() || !arm.kept.is_empty());
    arms.truncate(MOST_ARMS);
    let mut drawn = vec![
        (
            format!(
                "Every frame run that counts. A filled mark is a fracture at its onset, an open mark with an arrow a run that ended \
                 without one: the frame would have broken higher, if at all.{left_out}"
            ),
            by_arm(analysis, &arms),
        ),
        (
            format!(
                "Kaplan–Meier curve: steps are fractures, upright ticks are runs that ended without one, thin lines the limits at each \
                 fracture.{left_out}"
            ),
            super::survival::figure(analysis, &arms),
        ),
    ];
    drawn.extend(FORESTS.map(|forest| {
        (
            "Estimate and limits of each group; a limit that the data leave open runs off the edge.".to_owned(),
            super::forest::figure(analysis, &arms, forest),
        )
    }));
    drawn.extend(STRENGTH_MODELS.map(|model| {
        (
            format!(
                "Fractures at the middle of their steps of the survival curve, on axes where a {} distribution is a straight line. The \
                 lines are fits in which the runs without fracture count too; marks that bend away from their line speak against the model.",
                model.name
            ),
            super::probability::figure(analysis, &arms, model),
        )
    }));
    drawn.push((
        format!(
            "What each frame kept: its mean inner diameter before (stroke) and after (mark).{}",
            without_diameters(&arms)
        ),
        super::kept::figure(&arms),
    ));
    drawn.extend(super::dose::doses(analysis).iter().map(|against| {
        (
            against.caption.to_owned(),
            super::dose::figure(analysis, &arms, against),
        )
    }));
    drawn
        .into_iter()
        .filter_map(|(caption, svg)| {
            Some(StudyFigure {
                caption,
                svg: svg.ok().flatten()?,
            })
        })
        .collect()
}

/// How many runs lack a diameter before or after; empty where none does.
fn without_diameters(arms: &[Arm]) -> String {
    let n: usize = arms
        .iter()
        .map(|a| (a.runs.len() + a.without_pressure).saturating_sub(a.kept.len()))
        .sum();
    match n {
        0 => String::new(),
        1 => " 1 run without both diameters is left out.".to_owned(),
        n => format!(" {n} runs without both diameters are left out."),
    }
}

/// How many runs are not in the figures, and why; empty where all are.
fn left_out(arms: &[Arm]) -> String {
    let n: usize = arms.iter().map(|a| a.without_pressure).sum();
    let (runs, are) = if n == 1 {
        ("run", "is")
    } else {
        ("runs", "are")
    };
    if n == 0 {
        String::new()
    } else {
        format!(
            " {n} {runs} without a known pressure (seen at the inspection only, or without a recording) {are} left out."
        )
    }
}

/// Marker and colour of the arm at a position.
pub fn look(i: usize) -> (Mark, Ink) {
    // Past the last colour the marks move on by one, so that no pair comes twice soon.
    (
        MARKS
            .get((i + i / MARKS.len()) % MARKS.len())
            .copied()
            .unwrap_or(Mark::Dot),
        palette::ARMS
            .get(i % palette::ARMS.len())
            .copied()
            .unwrap_or(palette::PRESSURE),
    )
}

/// The groups in their order with their runs.
fn arms(analysis: &Analysis) -> Vec<Arm> {
    let by_id: BTreeMap<&str, &RunResult> = analysis
        .runs
        .iter()
        .map(|run| (run.run_id.as_str(), run))
        .collect();
    analysis
        .groups
        .iter()
        .map(|group| {
            let mut arm = Arm {
                name: group.name.clone(),
                runs: Vec::new(),
                without_pressure: 0,
                kept: Vec::new(),
            };
            let members = group.runs.iter().filter_map(|id| by_id.get(id.as_str()));
            for run in members {
                arm.kept.extend(kept(run));
                match reached(run, analysis.study.definition) {
                    Some(record) => arm.runs.push(record),
                    None => arm.without_pressure += 1,
                }
            }
            arm
        })
        .collect()
}

fn kept(run: &RunResult) -> Option<Kept> {
    let d = run.diameters.as_ref()?;
    let (before_mm, after_mm) = (d.before.value?, d.after.value?);
    (before_mm.is_finite() && after_mm.is_finite()).then_some(Kept {
        before_mm,
        after_mm,
        fractured: run.outcome == Outcome::Fractured,
    })
}

/// Fracture pressure of a fractured run (the lower end where an interval is known), highest pressure of one that was not; nothing for runs that
/// do not count.
fn reached(run: &RunResult, definition: PressureDefinition) -> Option<Reached> {
    let pressure = match run.outcome {
        Outcome::Invalid | Outcome::Reference => None,
        Outcome::Fractured => run
            .fracture_pressure(definition)
            .and_then(|(pressure, _)| pressure.value),
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
    let title = match analysis.study.definition {
        PressureDefinition::Onset => "Fracture pressure of each run".to_owned(),
        other => format!("Fracture pressure of each run, by {}", other.word()),
    };
    let title = title.as_str();
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
        "Group",
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
        .find(|g| g.name == arm.name)
        .and_then(|g| g.fracture_pressure.mean.value);
    if let Some(mean) = mean {
        let x = i as f64;
        panel.line(figure, &[(x - 0.36, mean), (x + 0.36, mean)], ink, 2.0);
    }
}
