//! Curves of the strengths of a group that assume no distribution: how many frames hold a pressure, and what ended the others. kPa.

use super::groups::ended_by_balloon;
use super::sample::Sample;
use crate::recording::{IncidenceResult, Interval, KaplanMeierResult, Outcome};
use crate::stats::{CauseObservation, cumulative_incidence, kaplan_meier, turnbull};

/// Rounding allowed where a survival is compared with a half.
const ROUNDING: f64 = 1e-9;
/// What ends runs, and compete: a frame that the balloon left whole might have broken a little higher.
const CAUSES: [(&str, Outcome); 4] = [
    ("fracture", Outcome::Fractured),
    ("burst", Outcome::Burst),
    ("leak", Outcome::Leak),
    ("slip", Outcome::Slip),
];

/// Curve of the strengths with its limits and the interval of its median: the product limit, or where steps are known Turnbull's.
pub(super) fn survival(sample: &Sample<'_>, confidence: f64) -> KaplanMeierResult {
    if sample.by_step() {
        return by_step(sample, confidence);
    }
    let method = "product-limit estimate (Kaplan-Meier); limits from the log(-log) limits of the survival (Brookmeyer-Crowley)";
    let mut result = empty(method, confidence);
    let curve = match kaplan_meier(&sample.strengths) {
        Ok(curve) => curve,
        Err(error) => {
            result.median.method = format!("{method}; no curve: {error}");
            return result;
        }
    };
    let median = &mut result.median;
    median.value = curve.median();
    if median.value.is_none() {
        median.method =
            format!("{method}; not reached: more than half survive the highest fracture");
    }
    match curve.median_limits(confidence) {
        Ok((lower, upper)) => (median.lower, median.upper) = (lower, upper),
        Err(error) => median.method = format!("{method}; no limits: {error}"),
    }
    if median.value.is_some() && (median.lower.is_none() || median.upper.is_none()) {
        median
            .method
            .push_str("; a limit that the curve does not reach is left out");
    }
    for step in &curve.steps {
        let limits = step.limits(confidence);
        result.pressure_kpa.push(step.value);
        result.surviving.push(step.survival);
        result.lower.push(limits.map(|l| l.lower));
        result.upper.push(limits.map(|l| l.upper));
    }
    result
}

fn empty(method: &str, confidence: f64) -> KaplanMeierResult {
    KaplanMeierResult {
        pressure_kpa: Vec::new(),
        surviving: Vec::new(),
        lower: Vec::new(),
        upper: Vec::new(),
        median: Interval {
            value: None,
            lower: None,
            upper: None,
            confidence,
            unit: "kPa".to_owned(),
            method: method.to_owned(),
        },
    }
}

/// Survival at the upper ends of steps, where it is known whatever happened within them.
fn by_step(sample: &Sample<'_>, confidence: f64) -> KaplanMeierResult {
    let method = "estimate of Turnbull from steps, at their upper ends; it has no limits";
    let mut result = empty(method, confidence);
    match turnbull(&sample.ranges) {
        Ok(curve) => {
            for step in curve.steps.iter().filter(|s| s.up_to.is_finite()) {
                result.pressure_kpa.push(step.up_to);
                result.surviving.push(step.survival);
                result.lower.push(None);
                result.upper.push(None);
                if result.median.value.is_none() && step.survival <= 0.5 + ROUNDING {
                    result.median.value = Some(step.up_to);
                }
            }
        }
        Err(error) => result.median.method = format!("{method}; no curve: {error}"),
    }
    result
}

/// How often each cause ended runs; `None` where the balloon ended none.
pub(super) fn incidence(sample: &Sample<'_>) -> Option<IncidenceResult> {
    if sample.by_step() || !sample.runs.iter().any(|run| ended_by_balloon(run)) {
        return None;
    }
    // Strengths stand in the order of the runs that have one.
    let without = |id: &str| {
        let lists = [
            &sample.fractures_without_pressure,
            &sample.unbroken_without_pressure,
        ];
        lists
            .iter()
            .any(|list| list.iter().any(|run| run.run_id == id))
    };
    let ended: Vec<CauseObservation> = sample
        .runs
        .iter()
        .filter(|run| !without(&run.run_id))
        .zip(&sample.strengths)
        .map(|(run, strength)| CauseObservation {
            value: strength.value,
            cause: CAUSES
                .iter()
                .position(|(_, outcome)| *outcome == run.outcome)
                // Broken beyond the limit of the channel: still going on there.
                .filter(|cause| *cause > 0 || !strength.censored),
        })
        .collect();
    let curve = cumulative_incidence(&ended, CAUSES.len()).ok()?;
    let by_cause = |pick: &dyn Fn(usize, usize) -> f64| -> Vec<Vec<f64>> {
        (0..CAUSES.len())
            .map(|cause| (0..curve.steps.len()).map(|at| pick(at, cause)).collect())
            .collect()
    };
    let of = |list: &[f64], cause: usize| list.get(cause).copied().unwrap_or(f64::NAN);
    Some(IncidenceResult {
        causes: CAUSES.iter().map(|(name, _)| (*name).to_owned()).collect(),
        runs: curve.failures.clone(),
        pressure_kpa: curve.steps.iter().map(|s| s.value).collect(),
        share: by_cause(&|at, cause| curve.steps.get(at).map_or(f64::NAN, |s| of(&s.incidence, cause))),
        u: by_cause(&|at, cause| curve.steps.get(at).map_or(f64::NAN, |s| of(&s.u, cause))),
        method: "cumulative incidence of competing ends (Aalen-Johansen), a run that the balloon ended at its highest pressure; one less the product limit would say how often frames broke if balloons never failed"
            .to_owned(),
    })
}
