//! Truth and result of one study, run by run.

use crate::bench::Plan;
use crate::bench::recorder::{Fault, Logger};
use crate::bench::run::TrueEvent;
use crate::bench::truth::{TrueRun, Truth};
use crate::recording::{Analysis, EventKind, Outcome, PhaseKind, RunKind, RunResult};

/// Breaks closer together than this are one fall in a recording, s: a level of a tenth of a second on either side is what tells a fall ...
const JOINED_S: f64 = 0.2;
/// ... or of two samples of a slow clock, beside the steps in which the breaks lie.
const JOINED_STEPS: f64 = 4.0;
/// A found break belongs to a true one within this time, s ...
const NEAR_S: f64 = 0.3;
/// ... or within so many steps of a slow clock.
const NEAR_STEPS: f64 = 2.5;
/// A break this near to a fault of the recording lies beside it, s: a level of a tenth of a second and the look whether it stays.
const BESIDE_S: f64 = 0.5;
/// A fall that ends so many standard deviations below the limit of the channel is seen.
const OVER_LIMIT_SIGMAS: f64 = 3.0;
/// How long a knock spoils a recording, s.
const KNOCK_S: f64 = 0.15;

/// A run of the proof: what was and what was said.
#[derive(Debug, Clone, PartialEq)]
pub struct Proven {
    /// Name of the scenario.
    pub scenario: String,
    /// Name of the study.
    pub study: String,
    /// Name of the run.
    pub run_id: String,
    /// Samples a second, Hz.
    pub rate_hz: f64,
    /// Standard deviation of one pressure sample, kPa.
    pub noise_kpa: f64,
    /// Whether the volume counter was logged.
    pub counter: bool,
    /// Whether somebody wrote down what the frame looked like.
    pub inspected: bool,
    /// What came of the run.
    pub truth: Outcome,
    /// What was said.
    pub said: Outcome,
    /// Whether that is right: also where a break hidden from the recording was seen by nobody.
    pub right: bool,
    /// True breaks of the frame inside the recording, those within a fifth of a second joined.
    pub breaks: Vec<Break>,
    /// Times of found fractures that were none, s.
    pub false_alarms: Vec<f64>,
    /// Confidence of every found fracture with a time, and whether it was one.
    pub claims: Vec<(f64, bool)>,
    /// True bursts, leaks and slips, and whether an event of the kind was found.
    pub others: Vec<(&'static str, bool)>,
}

/// A true break.
#[derive(Debug, Clone, PartialEq)]
pub struct Break {
    /// Onset, s.
    pub t_s: f64,
    /// Pressure in the balloon just before, kPa.
    pub pressure_kpa: f64,
    /// Fall, kPa.
    pub drop_kpa: f64,
    /// Fall over the standard deviation of one pressure sample.
    pub over_noise: f64,
    /// Capacity of line, balloon and frame, mL/kPa.
    pub capacity_ml_per_kpa: f64,
    /// The channel stood at its limit before and after, or the stopcock was shut for a refill: nothing of the fall is in the recording.
    pub hidden: bool,
    /// A fault of the recording lies within half a second.
    pub beside_fault: bool,
    /// What was found.
    pub found: Option<Found>,
}

/// A found fracture against the true break.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// Found onset less true onset, s.
    pub error_s: f64,
    /// Samples between the two.
    pub error_samples: f64,
    /// Whether the interval of the onset holds the truth.
    pub inside: bool,
    /// Length of that interval, s.
    pub width_s: f64,
    /// Found pressure less true pressure, kPa; none where there is none.
    pub pressure_error_kpa: Option<f64>,
    /// Its standard uncertainty, kPa.
    pub u_kpa: Option<f64>,
}

/// Every frame run of a study.
pub(super) fn compare(
    scenario: &str,
    plan: &Plan,
    truth: &Truth,
    analysis: &Analysis,
) -> Vec<Proven> {
    let Some(logger) = plan.loggers.first() else {
        return Vec::new();
    };
    let frames = truth.runs.iter().filter(|run| run.kind == RunKind::Frame);
    frames
        .filter_map(|run| {
            let result = analysis.runs.iter().find(|r| r.run_id == run.run_id)?;
            Some(one_run(scenario, plan, logger, run, result))
        })
        .collect()
}

fn one_run(
    scenario: &str,
    plan: &Plan,
    logger: &Logger,
    truth: &TrueRun,
    result: &RunResult,
) -> Proven {
    let near_s = NEAR_S.max(NEAR_STEPS / logger.rate_hz);
    let mut found: Vec<_> = result
        .events
        .iter()
        .filter(|event| event.kind == EventKind::Fracture)
        .filter_map(|event| Some((event.t_s?, event)))
        .collect();
    let mut breaks = Vec::new();
    let mut claims = Vec::new();
    for event in joined(truth, logger.rate_hz) {
        // Of what happened in a gap only the gap is known.
        let holds = |said: &crate::recording::Event| {
            let (from, to) = (said.t_lo_s, said.t_hi_s);
            from.is_some_and(|from| from <= event.t_s) && to.is_some_and(|to| event.t_s <= to)
        };
        let at = found
            .iter()
            .enumerate()
            .filter(|(_, (t, said))| (t - event.t_s).abs() <= near_s || holds(said))
            .min_by(|a, b| {
                (a.1.0 - event.t_s)
                    .abs()
                    .total_cmp(&(b.1.0 - event.t_s).abs())
            })
            .map(|(at, _)| at);
        let seen = at.map(|at| found.remove(at));
        claims.extend(seen.map(|(_, said)| (said.confidence, true)));
        breaks.push(break_of(logger, truth, &event, seen));
    }
    // What cannot be told from the recording, and nobody wrote down, may be taken for what the frame's diameter says.
    let unseen = truth.outcome == Outcome::Fractured
        && truth.inspection.is_empty()
        && breaks.iter().all(|b| b.hidden);
    let right = result.outcome == truth.outcome
        || truth.also_fair.contains(&result.outcome)
        || unseen && matches!(result.outcome, Outcome::Stretched | Outcome::Unchanged);
    let others = truth
        .events
        .iter()
        .filter(|event| matches!(event.kind, "burst" | "leak" | "slip") && event.t_s < truth.ends_s)
        .map(|event| {
            let said = result.events.iter().any(|e| e.kind.word() == event.kind);
            (event.kind, said)
        })
        .collect();
    claims.extend(found.iter().map(|(_, said)| (said.confidence, false)));
    Proven {
        scenario: scenario.to_owned(),
        study: plan.name.clone(),
        run_id: truth.run_id.clone(),
        rate_hz: logger.rate_hz,
        noise_kpa: logger.noise_kpa(),
        counter: logger.counter,
        inspected: !truth.inspection.is_empty(),
        truth: truth.outcome,
        said: result.outcome,
        right,
        breaks,
        false_alarms: found.into_iter().map(|(t, _)| t).collect(),
        claims,
        others,
    }
}

/// The breaks that lie in the recording, those that follow each other at once taken as one.
fn joined(truth: &TrueRun, rate_hz: f64) -> Vec<TrueEvent> {
    let joined_s = JOINED_S.max(JOINED_STEPS / rate_hz);
    let mut joined: Vec<TrueEvent> = Vec::new();
    let breaks = truth.events.iter().filter(|event| event.kind == "fracture");
    for event in breaks.filter(|event| event.t_s < truth.ends_s) {
        match joined.last_mut() {
            Some(last) if event.t_s - last.t_s < joined_s => {
                last.pressure_after_kpa = event.pressure_after_kpa;
                last.drop_kpa = event
                    .pressure_after_kpa
                    .map(|after| last.pressure_before_kpa - after);
            }
            _ => joined.push(event.clone()),
        }
    }
    joined
}

fn break_of(
    logger: &Logger,
    truth: &TrueRun,
    event: &TrueEvent,
    seen: Option<(f64, &crate::recording::Event)>,
) -> Break {
    let noise = logger.noise_kpa();
    let drop_kpa = event.drop_kpa.unwrap_or(0.0);
    let after = event.pressure_before_kpa - drop_kpa;
    let found = seen.map(|(t, said)| {
        let (lo, hi) = (said.t_lo_s.unwrap_or(t), said.t_hi_s.unwrap_or(t));
        Found {
            error_s: t - event.t_s,
            error_samples: (t - event.t_s) * logger.rate_hz,
            inside: (lo..=hi).contains(&event.t_s),
            width_s: hi - lo,
            pressure_error_kpa: said.pressure.value.map(|p| p - event.pressure_before_kpa),
            u_kpa: said.pressure.u,
        }
    });
    Break {
        t_s: event.t_s,
        pressure_kpa: event.pressure_before_kpa,
        drop_kpa,
        over_noise: drop_kpa / noise,
        capacity_ml_per_kpa: event.capacity_ml_per_kpa,
        hidden: event.phase == PhaseKind::Refill
            || after > logger.range_kpa.1 - OVER_LIMIT_SIGMAS * noise,
        beside_fault: event.pressure_before_kpa > logger.range_kpa.1
            || truth.spoilt.iter().any(|fault| {
                let (from, to) = spoils(fault, logger.rate_hz);
                event.t_s > from - BESIDE_S && event.t_s < to + BESIDE_S
            }),
        found,
    }
}

/// From when to when a fault spoils the recording, s.
fn spoils(fault: &Fault, rate_hz: f64) -> (f64, f64) {
    match *fault {
        Fault::Gap { from_s, seconds } => (from_s, from_s + seconds),
        Fault::Dropout { from_s, rows }
        | Fault::Held { from_s, rows }
        | Fault::Repeat { from_s, rows } => (from_s, from_s + rows as f64 / rate_hz),
        Fault::Spike { from_s, .. } => (from_s, from_s + 1.0 / rate_hz),
        Fault::Knock { from_s, .. } => (from_s, from_s + KNOCK_S),
        Fault::End { from_s } => (from_s, f64::INFINITY),
    }
}
