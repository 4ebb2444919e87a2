//! Statistics of each group.

use super::dose::{oversize, pressure, staircase};
use super::mixed::PlaceOf;
use super::observations::observations;
use super::planned::planned;
use super::sample::{Sample, samples};
use super::strength::{FEWEST_FOR_A_FIT, interval, pressure_statistics, share, tolerance, weibull};
use super::survival::{incidence, survival};
use super::words::{names, runs as so_many};
use super::{comparisons, families, mixed};
use crate::recording::{Finding, Grade, Group, Interval, Outcome, PressureDefinition, RunResult};
use crate::rig::{Series, Settings};
use crate::stats::describe;
use std::collections::BTreeSet;

const SCOPE: &str = "The statistics hold for the sampled lots of frames, this balloon (model and size) and this rate of inflation at this temperature only.";

/// Statistics of the frame runs of each group, in the order of their names.
///
/// Frame runs count unless they are invalid. A fractured run gives the pressure of its first fracture by the definition of the study; every
/// other run is right-censored at its highest pressure. A fracture without a pressure (known from the inspection only) counts in the proportion,
/// and in the distributions as left-censored at the highest pressure of its run. Confidence of the intervals: `settings.confidence`.
pub fn groups(runs: &[RunResult], series: &Series, settings: &Settings) -> Vec<Group> {
    samples(runs, series)
        .iter()
        .map(|sample| group(sample, series, settings))
        .collect()
}

/// A finding for everything that differs within a group of the study and should not, at the `place` of the first run that is unlike the others.
pub fn mixed_groups(runs: &[RunResult], series: &Series, place: PlaceOf<'_>) -> Vec<Finding> {
    let samples = samples(runs, series);
    let each = samples
        .iter()
        .flat_map(|sample| mixed::look(sample, series, place));
    let valves = comparisons::inner_valve::samples(runs, series);
    let between = valves
        .iter()
        .flat_map(|sample| mixed::look(sample, series, place));
    each.chain(mixed::shared_frames(&samples))
        .chain(between)
        .collect()
}

/// Statistics of one group.
pub fn group(sample: &Sample<'_>, series: &Series, settings: &Settings) -> Group {
    let confidence = settings.confidence;
    let (n, fractured) = (sample.runs.len(), sample.fractured());
    let mut remarks = vec![
        SCOPE.to_owned(),
        format!("Fracture pressure: {}.", sample.definition.meaning()),
    ];
    pooled(sample, &mut remarks);
    witnesses(sample, &mut remarks);
    censoring(sample, &mut remarks);
    common_error(sample, &mut remarks);
    let gains = values(sample, |run| run.areas.as_ref()?.gain.value);
    let after = values(sample, |run| run.diameters.as_ref()?.after.value);
    let mut dose = oversize(sample, confidence, &mut remarks);
    dose.extend(pressure(
        sample,
        series.up_and_down,
        confidence,
        &mut remarks,
    ));
    dose.extend(planned(
        sample,
        series.fracture_against.as_ref(),
        confidence,
        &mut remarks,
    ));
    let (mut strength, mut strength_points) = (Vec::new(), Vec::new());
    for strengths in families::strengths(sample) {
        let (results, points) = strengths.results(&sample.name, confidence);
        strength.extend(results);
        strength_points.extend(points);
    }
    Group {
        name: sample.name.clone(),
        by: series.group_by.words(),
        runs: sample.runs.iter().map(|run| run.run_id.clone()).collect(),
        n,
        fractured,
        censored: n - fractured,
        proportion: share(
            fractured,
            n,
            confidence,
            "fractured over all runs that count",
        ),
        fracture_pressure: pressure_statistics(sample),
        weibull: weibull(sample, confidence, &mut remarks),
        kaplan_meier: survival(sample, confidence),
        strength,
        strength_points,
        incidence: incidence(sample),
        tolerance: tolerance(sample, &mut remarks),
        area_gain: mean(&gains, n, confidence, "1"),
        diameter_after: mean(&after, n, confidence, "mm"),
        values: super::values::values(sample, confidence),
        dose,
        up_and_down: series.up_and_down.map(|plan| staircase(sample, plan)),
        observations: observations(sample, confidence),
        remarks,
    }
}

/// The finite values of the runs that have one.
pub(super) fn values(sample: &Sample<'_>, value: impl Fn(&RunResult) -> Option<f64>) -> Vec<f64> {
    sample
        .runs
        .iter()
        .filter_map(|run| value(run))
        .filter(|v| v.is_finite())
        .collect()
}

/// Mean with its t-interval; `None` where no run has the value.
fn mean(values: &[f64], n: usize, confidence: f64, unit: &str) -> Option<Interval> {
    let d = describe(values).ok()?;
    let method = format!(
        "mean of the {} of {n} runs that have it, fractured or not; t-interval of the mean",
        d.n
    );
    let limits = d.mean_interval(confidence);
    Some(interval(d.mean, limits, confidence, unit, &method))
}

/// What is thrown together in the group although it may differ.
fn pooled(sample: &Sample<'_>, remarks: &mut Vec<String>) {
    let balloons: BTreeSet<&str> = sample
        .runs
        .iter()
        .filter_map(|run| run.balloon_id.as_deref())
        .collect();
    if balloons.len() > 1 {
        remarks.push(format!(
            "Different balloons are pooled in this group: {}.",
            names(balloons)
        ));
    }
    let constructions: BTreeSet<&str> = sample
        .runs
        .iter()
        .filter_map(|run| run.frame.as_ref()?.construction.as_deref())
        .collect();
    if constructions.len() > 1 {
        remarks.push(format!(
            "Different constructions are pooled in this group: {}.",
            names(constructions)
        ));
    }
    let again: Vec<String> = sample
        .frames_again()
        .into_iter()
        .map(|(frame, runs)| format!("{frame} ({})", names(runs)))
        .collect();
    if !again.is_empty() {
        remarks.push(format!(
            "Frames used in more than one run: {}. Such runs are not independent, and all intervals are too narrow.",
            names(again.iter().map(String::as_str))
        ));
    }
}

/// Fractures that only one witness has seen, and those without a pressure.
fn witnesses(sample: &Sample<'_>, remarks: &mut Vec<String>) {
    let trace_only = sample.runs.iter().filter(|run| {
        run.outcome == Outcome::Fractured
            && run
                .first_fracture()
                .is_some_and(|e| matches!(e.grade, Grade::TraceOnly | Grade::Disagree))
    });
    let trace_only: Vec<&str> = trace_only.map(|run| run.run_id.as_str()).collect();
    if !trace_only.is_empty() {
        remarks.push(format!(
            "Fractures that the trace shows and no inspection confirms: {}.",
            names(trace_only)
        ));
    }
    let overruled = sample
        .runs
        .iter()
        .filter(|run| run.outcome != Outcome::Fractured && run.first_fracture().is_some());
    let overruled: Vec<&str> = overruled.map(|run| run.run_id.as_str()).collect();
    if !overruled.is_empty() {
        remarks.push(format!(
            "Counted as not fractured, since the inspection stands, although the trace looks like a fracture: {}.",
            names(overruled)
        ));
    }
    let unseen = &sample.fractures_without_pressure;
    if !unseen.is_empty() {
        remarks.push(format!(
            "Without a fracture pressure: {}, fractured by inspection ({}). They count in the proportion, and in the distributions as left-censored at their highest pressure; mean, spread and curve of survival leave them out.",
            so_many(unseen.len()),
            names(unseen.iter().map(|run| run.run_id.as_str()))
        ));
    }
    let beyond = &sample.fractures_beyond_limit;
    if !beyond.is_empty() {
        remarks.push(format!(
            "{} broke beyond the limit of the pressure channel ({}): they count as fractured, and their strength is right-censored at that limit.",
            so_many(beyond.len()),
            names(beyond.iter().map(|run| run.run_id.as_str()))
        ));
    }
    let unknown = &sample.unbroken_without_pressure;
    if !unknown.is_empty() {
        remarks.push(format!(
            "Left out of the pressure statistics: {} without fracture whose highest pressure is not known ({}). They count in the proportion.",
            so_many(unknown.len()),
            names(unknown.iter().map(|run| run.run_id.as_str()))
        ));
    }
}

fn censoring(sample: &Sample<'_>, remarks: &mut Vec<String>) {
    let unbroken = sample.runs.len() - sample.fractured();
    if unbroken == 0 {
        return;
    }
    let rest = if sample.fractured() >= FEWEST_FOR_A_FIT {
        "the mean of the fractured alone is biased low; use the distributions and the Kaplan-Meier curve"
    } else {
        "so few fractures tell no distribution; what is known is the exact limit of the share, and the pressure that each run held"
    };
    remarks.push(format!(
        "{} of {} runs did not fracture and are right-censored at their highest pressure: {rest}.",
        unbroken,
        sample.runs.len()
    ));
    let balloon = sample.runs.iter().filter(|run| ended_by_balloon(run));
    let balloon: Vec<&str> = balloon.map(|run| run.run_id.as_str()).collect();
    if !balloon.is_empty() {
        remarks.push(format!(
            "{} ended by burst, leak or slip ({}): censoring them there is sound only if what ended them has nothing to do with the strength of the frame.",
            so_many(balloon.len()),
            names(balloon)
        ));
    }
}

/// True where the balloon, not the plan, ended the run.
pub(super) fn ended_by_balloon(run: &RunResult) -> bool {
    matches!(run.outcome, Outcome::Burst | Outcome::Leak | Outcome::Slip)
}

/// The standard error knows the scatter only; what all runs share (zero, span) does not show in it.
fn common_error(sample: &Sample<'_>, remarks: &mut Vec<String>) {
    let largest = sample
        .runs
        .iter()
        .filter(|run| run.outcome == Outcome::Fractured)
        .filter_map(|run| run.fracture_pressure(sample.definition)?.0.u)
        .fold(0.0, f64::max);
    if sample.definition == PressureDefinition::Dial {
        let whole = sample.runs.len() > sample.fractured();
        remarks.push(format!(
            "The accuracy of a dial is usually some per cent of its full scale; {}. Intervals come from the scatter between runs alone.{}",
            if largest > 0.0 {
                format!("a reading here has a standard uncertainty of up to {largest:.1} kPa")
            } else {
                "that of this one is not declared".to_owned()
            },
            if whole {
                " Runs without fracture stand at the highest pressure of the transducer, since nobody reads a dial at which nothing happens."
            } else {
                ""
            }
        ));
    } else if largest > 0.0 {
        remarks.push(format!(
            "Standard error and intervals come from the scatter between runs. Each fracture pressure has a standard uncertainty of up to {largest:.1} kPa; the part of it that all runs share (calibration of the transducer) is not in them."
        ));
    }
}
