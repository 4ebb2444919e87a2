//! Fracture as pass or fail at a chosen load: against oversize, and by a staircase of pressures (what was planned otherwise: `planned`).

use super::families::open_interval;
use super::groups::ended_by_balloon;
use super::sample::Sample;
use super::words::names;
use crate::recording::{DoseResult, Outcome, StaircaseResult};
use crate::rig::Staircase;
use crate::stats::{
    Counted, DoseCurve, DoseEstimate, DoseFit, Level, StatsError, dose_fit, separation, up_and_down,
};
use crate::uncertain::Quantity;

const CURVES: [(DoseCurve, &str); 2] = [(DoseCurve::Logit, "logit"), (DoseCurve::Probit, "probit")];
/// Fewest runs for a curve: its two parameters and as many again to contradict it.
const FEWEST_RUNS: usize = 4;
/// How far a pressure may stand off its level, in steps: half way to the next it would belong there as well.
const OFF_LEVEL_STEPS: f64 = 0.25;

/// What fracture is set against.
pub(super) struct Dose<'d> {
    pub name: &'d str,
    pub quantity: &'d str,
    pub unit: &'d str,
    pub remark: &'d str,
}

const OVERSIZE: Dose<'_> = Dose {
    name: "oversize",
    quantity: "oversize_true_id",
    unit: "mm",
    remark: "Oversize is that of the balloon at the highest pressure of a run; the curve means something only where balloons were chosen beforehand and pressed alike. Uncertainties of the oversize are not in it.",
};
const PRESSURE: Dose<'_> = Dose {
    name: "pressure",
    quantity: "pressure",
    unit: "kPa",
    remark: "Pressure is the level of the staircase that a run was meant for.",
};

/// Names in the results of what is set against fracture without being planned.
pub(super) const OTHER_DOSES: [&str; 2] = [OVERSIZE.quantity, PRESSURE.quantity];

/// Probability of fracture against the oversize of the balloon over the true inner diameter.
pub(super) fn oversize(
    sample: &Sample<'_>,
    confidence: f64,
    remarks: &mut Vec<String>,
) -> Vec<DoseResult> {
    let outcomes: Vec<(f64, bool)> = sample
        .runs
        .iter()
        // A run that the balloon ended says nothing of what its oversize would have done.
        .filter(|run| !ended_by_balloon(run))
        .filter_map(|run| {
            let mm = run.frame.as_ref()?.oversize_true_id.value;
            let mm = mm.filter(|mm| mm.is_finite())?;
            Some((mm, run.outcome == Outcome::Fractured))
        })
        .collect();
    curves(&OVERSIZE, sample, &outcomes, confidence, remarks)
}

/// Probability of fracture against the pressure that a frame was loaded to, where a staircase says what it was.
pub(super) fn pressure(
    sample: &Sample<'_>,
    plan: Option<Staircase>,
    confidence: f64,
    remarks: &mut Vec<String>,
) -> Vec<DoseResult> {
    // Why a staircase is none it says itself.
    let Some((plan, levels)) = plan.and_then(|plan| Some((plan, levels(sample, plan).ok()?)))
    else {
        return Vec::new();
    };
    let outcomes: Vec<(f64, bool)> = levels
        .iter()
        .map(|&(at, broke)| (plan.start_kpa + plan.step_kpa * at as f64, broke))
        .collect();
    curves(&PRESSURE, sample, &outcomes, confidence, remarks)
}

/// Probability of fracture against a dose, by logit and probit.
///
/// Where outcomes are separated the bias-reduced fit stands alone, since the likelihood has no maximum; else both stand. Empty, with the reason
/// among the remarks, where all or none fractured, where frames were used again, where no curve can be fitted that rises, and for fewer than
/// [`FEWEST_RUNS`] runs with a dose.
pub(super) fn curves(
    dose: &Dose<'_>,
    sample: &Sample<'_>,
    outcomes: &[(f64, bool)],
    confidence: f64,
    remarks: &mut Vec<String>,
) -> Vec<DoseResult> {
    let mut none = |why: &str| {
        remarks.push(format!(
            "No curve of fracture against {}: {why}.",
            dose.name
        ));
        Vec::new()
    };
    if !sample.frames_again().is_empty() {
        return none("frames were used more than once");
    }
    let levels: Vec<Level> = outcomes
        .iter()
        .map(|&(level, broke)| Level {
            level,
            n: 1,
            failures: usize::from(broke),
        })
        .collect();
    let fractured = outcomes.iter().filter(|(_, broke)| *broke).count();
    if levels.is_empty() {
        return Vec::new();
    }
    if levels.len() < FEWEST_RUNS {
        return none(&format!(
            "fewer than {FEWEST_RUNS} runs with a known {} say whether it breaks a frame",
            dose.name
        ));
    }
    if fractured == 0 || fractured == levels.len() {
        return none(if fractured == 0 {
            "no frame fractured"
        } else {
            "every frame fractured"
        });
    }
    let separated = separation(&levels);
    let mut results = Vec::new();
    for (curve, curve_name) in CURVES {
        for (estimate, name) in [
            (DoseEstimate::MaximumLikelihood, "maximum likelihood"),
            (DoseEstimate::BiasReduced, "bias-reduced"),
        ] {
            let Ok(fit) = dose_fit(&levels, curve, estimate) else {
                continue;
            };
            let unit = dose.unit;
            let mut remarks = vec![dose.remark.to_owned()];
            if let Some(apart) = separated {
                remarks.push(format!(
                    "Separated: no frame fractured below {:.2} {unit} and every one above {:.2} {unit}; the threshold lies between, and its spread is that of the penalty, not of the data.",
                    apart.lowest_failure, apart.highest_pass
                ));
            }
            let ed50 = level(&fit, 0.5, confidence, (name, unit));
            let ed90 = level(&fit, 0.9, confidence, (name, unit));
            if ed50.lower.is_none() && ed50.upper.is_none() {
                remarks.push("Both limits of the dose for one half are open: these runs do not show that the dose matters.".to_owned());
            }
            let highest = levels
                .iter()
                .map(|l| l.level)
                .fold(f64::NEG_INFINITY, f64::max);
            if ed90.value.is_some_and(|dose| dose > highest) {
                remarks.push(format!(
                    "The dose for nine in ten lies beyond the largest tried ({highest:.2} {unit}): it rests on the curve alone."
                ));
            }
            results.push(DoseResult {
                quantity: dose.quantity.to_owned(),
                unit: unit.to_owned(),
                curve: curve_name.to_owned(),
                estimate: name.to_owned(),
                n: fit.n,
                fractured: fit.failures,
                ed50,
                ed90,
                spread: Quantity::without_u(
                    fit.spread,
                    unit,
                    match curve {
                        DoseCurve::Logit => "one over the slope of the logit",
                        DoseCurve::Probit => "standard deviation of the thresholds by the probit",
                    },
                    "the limits of the doses tell how sure the curve is",
                ),
                separation: separated.map(|s| (s.highest_pass, s.lowest_failure)),
                remarks,
                outcomes: outcomes.to_vec(),
            });
        }
    }
    if results.is_empty() {
        return none(&format!(
            "none that rises with the {} fits these runs",
            dose.name
        ));
    }
    results
}

fn level(
    fit: &DoseFit,
    p: f64,
    confidence: f64,
    (name, unit): (&str, &str),
) -> crate::recording::Interval {
    let limits = fit.level_limits(p, confidence);
    let method = format!("{name}; likelihood-ratio limits");
    open_interval(
        fit.level(p).unwrap_or(f64::NAN),
        limits,
        confidence,
        unit,
        &method,
    )
}

/// The declared staircase, evaluated; or why it is refused.
pub(super) fn staircase(sample: &Sample<'_>, plan: Staircase) -> StaircaseResult {
    let refused = |why: String| StaircaseResult {
        n: sample.runs.len(),
        counted: String::new(),
        count: 0,
        mean: Quantity::missing("kPa", why.clone()),
        sd_kpa: None,
        method: format!("no staircase estimate: {why}"),
    };
    let again = sample.frames_again();
    if !again.is_empty() {
        let again = names(again.iter().map(|(frame, _)| *frame));
        return refused(format!(
            "frames used more than once ({again}), and a frame that has been loaded is no longer the frame it was"
        ));
    }
    let levels = match levels(sample, plan) {
        Ok(levels) => levels,
        Err(why) => return refused(why),
    };
    match evaluate(&levels, plan) {
        Ok((found, counted)) => StaircaseResult {
            n: levels.len(),
            counted: counted.to_owned(),
            count: found.n,
            mean: Quantity::without_u(
                found.mean,
                "kPa",
                "staircase (Dixon-Mood)",
                "the few levels of a staircase tell its scatter badly; repeat it, or fit a dose curve",
            ),
            sd_kpa: found.sd,
            method: format!(
                "staircase from {:.1} kPa by {:.1} kPa (Dixon-Mood){}",
                plan.start_kpa,
                plan.step_kpa,
                if found.sd.is_some() {
                    ""
                } else {
                    "; too few levels visited for a standard deviation"
                }
            ),
        },
        Err(error) => refused(error.to_string()),
    }
}

/// The level of each run, counted in steps from the start, and whether it fractured.
///
/// A run that was not loaded to its level, or broke beyond it, makes the staircase another one than declared.
fn levels(sample: &Sample<'_>, plan: Staircase) -> Result<Vec<(i64, bool)>, String> {
    let mut at = 0_i64;
    let mut levels = Vec::with_capacity(sample.runs.len());
    for run in &sample.runs {
        let level = plan.start_kpa + plan.step_kpa * at as f64;
        let broke = run.outcome == Outcome::Fractured;
        if ended_by_balloon(run) {
            return Err(format!("the balloon ended the run {}", run.run_id));
        }
        let reached = if broke {
            let told = run.fracture_pressure(sample.definition);
            told.and_then(|(pressure, _)| pressure.value)
        } else {
            run.highest_pressure.value
        };
        let reached =
            reached.ok_or_else(|| format!("no pressure of the run {} is known", run.run_id))?;
        let off = (reached - level) / plan.step_kpa;
        if off > OFF_LEVEL_STEPS || (!broke && off < -OFF_LEVEL_STEPS) {
            return Err(format!(
                "the run {} should have been loaded to {level:.1} kPa and {} {reached:.1} kPa",
                run.run_id,
                if broke { "broke at" } else { "reached" }
            ));
        }
        levels.push((at, broke));
        at += if broke { -1 } else { 1 };
    }
    Ok(levels)
}

fn evaluate(
    levels: &[(i64, bool)],
    plan: Staircase,
) -> Result<(crate::stats::UpAndDown, &'static str), StatsError> {
    let broken = levels.iter().filter(|(_, broke)| *broke).count();
    let (counted, broke, word) = if 2 * broken <= levels.len() {
        (Counted::Failures, true, "fractures")
    } else {
        (Counted::Passes, false, "survivals")
    };
    let of_interest = || {
        levels
            .iter()
            .filter(|(_, b)| *b == broke)
            .map(|(at, _)| *at)
    };
    let (Some(lowest), Some(highest)) = (of_interest().min(), of_interest().max()) else {
        return Err(StatsError::TooFew {
            what: "outcomes of each kind",
            needed: 1,
            found: 0,
        });
    };
    let counts: Vec<u32> = (lowest..=highest)
        .map(|at| of_interest().filter(|of| *of == at).count() as u32)
        .collect();
    let lowest_kpa = plan.start_kpa + plan.step_kpa * lowest as f64;
    Ok((
        up_and_down(lowest_kpa, plan.step_kpa, &counts, counted)?,
        word,
    ))
}
