//! A rated burst pressure from burst tests: the one-sided lower tolerance limit of the burst pressures, rounded down.
//!
//! A rated burst pressure is one that nearly all balloons hold, as a rule 99.9 % at 95 % confidence (guidance for dilatation catheters, from
//! memory). To show that by counting would take 2995 balloons without a burst; so it is set from the pressures of balloons inflated until
//! they burst: mean − k s, k by ISO 16269-6.

use super::words::names;
use crate::recording::{
    BalloonRating, BalloonRow, Event, EventKind, Grade, Inspection, Outcome, RunKind, RunResult,
};
use crate::rig::settings;
use crate::stats::{describe, tolerance_one_sided};
use crate::uncertain::Quantity;
use crate::units::KPA_PER_ATM;
use std::collections::{BTreeMap, BTreeSet};

/// Fewest bursts of a limit: with fewer, k is so large that nothing is left.
const FEWEST: usize = 5;
/// Rounding down must not lose a step to the last digit of a sum.
const ROUNDING: f64 = 1e-9;

/// A free run to burst, or one that ended whole.
struct Test<'t> {
    run: &'t RunResult,
    row: &'t BalloonRow,
    /// Pressure it burst at, kPa; `None` where it ended whole.
    burst_kpa: Option<f64>,
}

/// Ratings of every model of balloon of which a free run ended in a burst; a model is a labelled diameter and length.
pub fn rated_bursts(
    runs: &[RunResult],
    balloons: &[BalloonRow],
    settings: &settings::Balloon,
) -> Vec<BalloonRating> {
    let mut models: BTreeMap<String, Vec<Test<'_>>> = BTreeMap::new();
    let free = |run: &&RunResult| run.kind == RunKind::Free && run.outcome == Outcome::Reference;
    for run in runs.iter().filter(free) {
        let Some(row) = balloons
            .iter()
            .find(|b| Some(&b.balloon_id) == run.balloon_id.as_ref())
        else {
            continue;
        };
        models.entry(model(row)).or_default().push(Test {
            run,
            row,
            burst_kpa: burst_kpa(run),
        });
    }
    models.retain(|_, tests| tests.iter().any(|test| test.burst_kpa.is_some()));
    models
        .into_iter()
        .map(|(name, tests)| rating(name, &tests, settings))
        .collect()
}

fn model(row: &BalloonRow) -> String {
    let mm = |value: Option<f64>| value.map_or("?".to_owned(), |v| format!("{v}"));
    format!(
        "{} × {} mm",
        mm(row.nominal_diameter_mm),
        mm(row.working_length_mm)
    )
}

/// Pressure just before the burst; the highest of the run where only the eye saw it.
fn burst_kpa(run: &RunResult) -> Option<f64> {
    let stands = |e: &&Event| e.kind == EventKind::Burst && e.grade != Grade::Disagree;
    let burst = run.events.iter().find(stands);
    match burst {
        Some(event) => event.pressure.value.or(run.highest_pressure.value),
        None if run.inspection == Some(Inspection::Burst) => run.highest_pressure.value,
        None => None,
    }
}

fn rating(name: String, tests: &[Test<'_>], settings: &settings::Balloon) -> BalloonRating {
    let bursts: Vec<f64> = tests.iter().filter_map(|test| test.burst_kpa).collect();
    let (coverage, confidence) = (settings.rated_coverage_share, settings.rated_confidence);
    let mut rating = BalloonRating {
        name,
        bursts: bursts.len(),
        mean: Quantity::missing("kPa", "fewer than two bursts"),
        sd_kpa: None,
        k: None,
        coverage,
        confidence,
        limit_kpa: None,
        rated_atm: None,
        labelled_atm: labelled_atm(tests),
        reason: None,
        remarks: remarks(tests, &bursts),
    };
    if let Ok(d) = describe(&bursts)
        && let Some(sd) = d.sd
    {
        let u = sd / (bursts.len() as f64).sqrt();
        rating.mean = Quantity::known(
            d.mean,
            u,
            "kPa",
            "mean of the burst pressures, scatter only",
        );
        rating.sd_kpa = Some(sd);
    }
    match limit(tests, &bursts, settings) {
        Ok((k, limit)) => {
            rating.k = Some(k);
            rating.limit_kpa = Some(limit);
            let step = settings.rated_step_atm;
            rating.rated_atm = Some(((limit / KPA_PER_ATM + ROUNDING) / step).floor() * step);
        }
        Err(reason) => rating.reason = Some(reason),
    }
    rating
}

/// k and the lower tolerance limit, kPa.
fn limit(
    tests: &[Test<'_>],
    bursts: &[f64],
    settings: &settings::Balloon,
) -> Result<(f64, f64), String> {
    if bursts.len() < FEWEST {
        return Err(format!(
            "{} bursts: at least {FEWEST} are needed",
            bursts.len()
        ));
    }
    let lowest = bursts.iter().copied().fold(f64::INFINITY, f64::min);
    let whole: Vec<&str> = tests
        .iter()
        .filter(|test| test.burst_kpa.is_none())
        .filter(|test| test.run.highest_pressure.value.is_some_and(|p| p >= lowest))
        .map(|test| test.run.run_id.as_str())
        .collect();
    if !whole.is_empty() {
        return Err(format!(
            "{} ended whole at or above the lowest burst pressure: a normal tolerance limit needs every test carried on to its burst",
            names(whole)
        ));
    }
    let d = describe(bursts).map_err(|error| error.to_string())?;
    let sd =
        d.sd.filter(|sd| *sd > 0.0)
            .ok_or("the burst pressures do not differ")?;
    let k = tolerance_one_sided(
        bursts.len() as u64,
        settings.rated_coverage_share,
        settings.rated_confidence,
    )
    .map_err(|error| error.to_string())?;
    let limit = d.mean - k * sd;
    if limit > 0.0 {
        Ok((k, limit))
    } else {
        Err(format!(
            "mean − k s with k = {k:.3} is below zero: too few bursts for their scatter"
        ))
    }
}

fn labelled_atm(tests: &[Test<'_>]) -> Option<f64> {
    let mut labels = tests.iter().map(|test| test.row.rated_burst_pressure_kpa);
    let first = labels.next()??;
    labels
        .all(|other| other == Some(first))
        .then_some(first / KPA_PER_ATM)
}

fn remarks(tests: &[Test<'_>], bursts: &[f64]) -> Vec<String> {
    let mut remarks = vec![
        "Holds if burst pressures are normally distributed, for the sampled lots and this rate and temperature only; bursts inside a frame are not among them.".to_owned(),
    ];
    let lots: BTreeSet<&str> = tests
        .iter()
        .filter(|test| test.burst_kpa.is_some())
        .map(|test| test.row.lot.as_deref().unwrap_or("not listed"))
        .collect();
    if lots.len() > 1 {
        remarks.push(format!("Lots pooled: {}.", names(lots)));
    }
    let mut by_balloon: BTreeMap<&str, usize> = BTreeMap::new();
    for test in tests {
        *by_balloon.entry(test.row.balloon_id.as_str()).or_default() += 1;
    }
    let again = by_balloon
        .iter()
        .filter(|(_, n)| **n > 1)
        .map(|(id, _)| *id);
    let again: Vec<&str> = again.collect();
    if !again.is_empty() {
        remarks.push(format!(
            "A balloon_id with more than one free run names a model, or a balloon that was inflated before: {}. A burst test needs a fresh balloon each.",
            names(again)
        ));
    }
    let whole = tests.len() - bursts.len();
    if whole > 0 {
        remarks.push(format!(
            "{whole} free runs ended whole and are no burst test."
        ));
    }
    remarks
}
