//! Blank and free runs: the line and the balloons.

use super::{Attempt, References, Study, burst_test, results};
use crate::balloon::{
    FreeBalloon, LineModel, Unfolding, fit_free, fit_line, pool_lines, report_free,
};
use crate::recording::{
    Curve, Finding, LineResult, Outcome, Phase, Place, RunKind, RunResult, RunRow, Trace,
};
use crate::segment::Rest;
use crate::uncertain::Trials;
use crate::units::KPA_PER_ATM;
use std::collections::{BTreeMap, BTreeSet};

/// Points of a curve drawn.
const CURVE_POINTS: u32 = 60;
/// Pressure up to which a line is drawn where nothing says more, kPa.
const LINE_TOP_KPA: f64 = 2000.0;

/// Measures line and balloons; gives the results of the reference runs in their order.
pub(super) fn measure(
    study: &Study,
    runs: &[&RunRow],
    attempts: &[Attempt],
    trials: Option<Trials>,
) -> (References, Vec<RunResult>) {
    let mut results: Vec<RunResult> = runs
        .iter()
        .zip(attempts)
        .map(|(run, attempt)| results::bare(study, run, attempt))
        .collect();
    let mut lines: Vec<(LineModel, LineResult)> = Vec::new();
    for ((run, attempt), result) in runs
        .iter()
        .zip(attempts)
        .zip(&mut results)
        .filter(|((run, _), _)| run.kind == RunKind::Blank)
    {
        let Some(p) = &attempt.prepared else { continue };
        let ambient = study
            .rig_of(run)
            .map_or(KPA_PER_ATM, crate::rig::Rig::ambient);
        let settings = &study.settings().line;
        let trials = trials.map(|trials| (run.run_id.as_str(), trials));
        match fit_line(&p.trace, &p.rests, &p.phases, ambient, settings, trials) {
            Ok((model, line, doubt)) => {
                let file = run.trace.as_deref().unwrap_or(&run.file);
                let doubt = doubt.map(|d| d.at(Place::file(file)).run(&run.run_id));
                result.findings.extend(doubt);
                result.add_budgets(&line.budgets);
                result.monte_carlo.extend(line.by_trials.iter().cloned());
                result.line = Some(line.clone());
                // A rig may name which blank runs count.
                if study.rig.blank_runs.is_empty() || study.rig.blank_runs.contains(&run.run_id) {
                    lines.push((model, line));
                }
            }
            Err(reason) => result.findings.push(
                Finding::doubt(
                    "no-line",
                    format!("the line cannot be told from this blank run: {reason}"),
                )
                .at(Place::line(&run.file, run.line))
                .run(&run.run_id),
            ),
        }
    }
    let line = pool_lines(&lines);
    for ((run, attempt), result) in runs.iter().zip(attempts).zip(&mut results) {
        if run.kind == RunKind::Free {
            burst_test::find(study, run, attempt, line.as_ref(), result);
        }
    }
    let ids: BTreeSet<String> = study
        .tables
        .runs
        .iter()
        .filter_map(|r| r.balloon_id.clone())
        .collect();
    let (mut balloons, mut unfoldings) = (BTreeMap::new(), BTreeMap::new());
    for id in ids {
        let of_balloon =
            |run: &RunRow| run.kind == RunKind::Free && run.balloon_id.as_ref() == Some(&id);
        let free_runs: Vec<(&Trace, &[Rest])> = runs
            .iter()
            .zip(attempts)
            .zip(&results)
            .filter(|((run, _), _)| of_balloon(run))
            .filter_map(|((_, attempt), result)| {
                let prepared = attempt.prepared.as_ref()?;
                Some((&prepared.trace, burst_test::whole(&prepared.rests, result)))
            })
            .collect();
        let chart: Vec<_> = study
            .tables
            .charts
            .iter()
            .filter(|c| c.balloon_id == id)
            .collect();
        let free = fit_free(&free_runs, &chart, line.as_ref());
        let row = study.tables.balloons.iter().find(|b| b.balloon_id == id);
        for ((run, attempt), result) in runs.iter().zip(attempts).zip(&mut results) {
            if let (true, Some(p)) = (of_balloon(run), &attempt.prepared) {
                let rests = burst_test::whole(&p.rests, result);
                let settings = &study.settings().balloon;
                let trials = trials.map(|trials| (run.run_id.as_str(), trials));
                let balloon = report_free(&free, row, &p.trace, rests, settings, trials);
                result.add_budgets(&balloon.budgets);
                result.monte_carlo.extend(balloon.by_trials.iter().cloned());
                result.balloon = Some(balloon);
            }
        }
        let fills: Vec<(&Trace, &[Phase], &[Rest])> = runs
            .iter()
            .zip(attempts)
            .filter(|(run, _)| of_balloon(run))
            .filter_map(|(_, attempt)| attempt.prepared.as_ref())
            .map(|p| (&p.trace, p.phases.as_slice(), p.rests.as_slice()))
            .collect();
        if let Some(unfolding) = Unfolding::from_fills(&fills, &free, line.as_ref()) {
            unfoldings.insert(id.clone(), unfolding);
        }
        balloons.insert(id, free);
    }
    for (result, attempt) in results.iter_mut().zip(attempts) {
        result.outcome = if attempt.prepared.is_some() {
            Outcome::Reference
        } else {
            Outcome::Invalid
        };
        if attempt.prepared.is_some() {
            let reason = match result.kind {
                RunKind::Blank => "blank run: measures the line",
                _ if result.events.is_empty() => "free run: measures the balloon",
                _ => "free run to burst: measures the balloon and where it bursts",
            };
            reason.clone_into(&mut result.outcome_reason);
        }
        if let Some(trials) = trials {
            super::trials::add(result, trials);
        }
    }
    let references = References {
        line,
        balloons,
        unfoldings,
        drift_kpa_per_s: usual_drift(attempts),
    };
    (references, results)
}

/// How fast the zero drifts in the runs that show it, kPa/s: the root mean square, since a drift has no sign of its own in the next run.
fn usual_drift(attempts: &[Attempt]) -> Option<f64> {
    let squares: Vec<f64> = attempts
        .iter()
        .filter_map(|attempt| attempt.prepared.as_ref()?.trace.drift_kpa_per_s)
        .map(|drift| drift.powi(2))
        .collect();
    (!squares.is_empty()).then(|| (squares.iter().sum::<f64>() / squares.len() as f64).sqrt())
}

/// The line as a curve to draw.
pub(super) fn line_curve(line: &LineModel) -> Curve {
    let pressure_kpa: Vec<f64> = (0..=CURVE_POINTS)
        .map(|i| LINE_TOP_KPA * f64::from(i) / f64::from(CURVE_POINTS))
        .collect();
    Curve {
        volume_ml: pressure_kpa.iter().map(|p| line.volume_ml(*p)).collect(),
        pressure_kpa,
        ..Curve::default()
    }
}

/// The free balloon as a curve to draw; empty lists where unknown.
pub(super) fn balloon_curve(free: &FreeBalloon) -> Curve {
    let top = free
        .volume
        .last()
        .map(|p| p.0)
        .or(free.diameter.as_ref().map(|d| d.highest_kpa))
        .unwrap_or(LINE_TOP_KPA);
    let all: Vec<f64> = (0..=CURVE_POINTS)
        .map(|i| top * f64::from(i) / f64::from(CURVE_POINTS))
        .collect();
    let with_volume: Vec<f64> = all
        .iter()
        .copied()
        .filter(|p| free.volume_at(*p).is_some())
        .collect();
    let pressure_kpa = if with_volume.len() > 2 {
        with_volume
    } else {
        all
    };
    let volume_ml: Vec<f64> = pressure_kpa
        .iter()
        .filter_map(|p| free.volume_at(*p))
        .collect();
    Curve {
        diameter_mm: free.diameter.as_ref().map_or_else(Vec::new, |d| {
            pressure_kpa.iter().map(|p| d.at(*p)).collect()
        }),
        volume_ml: if volume_ml.len() == pressure_kpa.len() {
            volume_ml
        } else {
            Vec::new()
        },
        pressure_kpa,
        ..Curve::default()
    }
}
