//! The frame under load against its truth. What is defined at quasi-static points is compared with what exact instruments would have
//! shown at the same moments, yield with what its method makes of them: a frame that creeps has no single moment at which it yields.
//! Energies are compared with their closed forms.

use super::quantities::{Add, Family, SAME_EVENT_S};
use crate::balloon::{
    LineModel, LoadErrors, LoadPoint, elastic_line, line_energy, offset_yield, ring_work,
    up_to_highest_load, yield_break,
};
use crate::bench::run::TrueEvent;
use crate::bench::truth::{TrueRun, Truth};
use crate::recording::{Event, EventKind, FrameResult, PhaseKind, RunResult};
use crate::rig::Settings;
use crate::uncertain::Quantity;
use std::f64::consts::PI;

/// Compares one figure of a frame: its name, the truth, and what was said.
type AddFrame<'a> = dyn FnMut(&str, Option<f64>, &Quantity) + 'a;

/// Every figure of a frame.
pub(super) fn compare(add: &mut Add<'_>, truth: &Truth, run: &TrueRun, result: &RunResult) {
    let Some(said) = &result.frame else { return };
    let exact = exact(run, said);
    let add: &mut AddFrame<'_> = &mut |name, truth, said| add(Family::Frame, name, truth, said);
    let peak = said
        .peak_load
        .value
        .and_then(|load| at_value(said, load))
        .and_then(|at| exact.get(at).copied().flatten());
    let tension = peak.map(|p| p.load_kpa * p.diameter_mm / 2000.0);
    add("peak load", peak.map(|p| p.load_kpa), &said.peak_load);
    add("peak tension", tension, &said.peak_tension);
    let force = tension.zip(run.band_height_mm).map(|(t, band)| t * band);
    add("peak force", force, &said.peak_force);
    rising(add, run, result, said, &exact);
    broken(add, truth, run, result, said, &exact);
}

/// Index of the point of a load curve that has this load.
fn at_value(said: &FrameResult, load_kpa: f64) -> Option<usize> {
    said.curve.pressure_kpa.iter().position(|p| *p == load_kpa)
}

/// What was at the times of the load curve.
fn exact(run: &TrueRun, said: &FrameResult) -> Vec<Option<LoadPoint>> {
    said.curve_time_s.iter().map(|t| at_time(run, *t)).collect()
}

/// What was at a time, straight between the moments kept.
fn at_time(run: &TrueRun, t_s: f64) -> Option<LoadPoint> {
    let after = run.loads.partition_point(|l| l.t_s < t_s);
    let (a, b) = (run.loads.get(after.checked_sub(1)?)?, run.loads.get(after)?);
    let share = (t_s - a.t_s) / (b.t_s - a.t_s);
    let between = |a: f64, b: f64| a + share * (b - a);
    Some(LoadPoint {
        t_s,
        pressure_kpa: between(a.pressure_kpa, b.pressure_kpa),
        diameter_mm: between(a.waist_mm, b.waist_mm),
        u_diameter_mm: f64::NAN,
        load_kpa: between(a.load_kpa, b.load_kpa),
        u_load_kpa: f64::NAN,
        errors: LoadErrors::default(),
        covariance: f64::NAN,
        own_mm: 0.0,
        free_kpa_per_mm: f64::NAN,
        volume_ml: f64::NAN,
    })
}

/// What is told by the way up to the first event.
fn rising(
    add: &mut AddFrame<'_>,
    run: &TrueRun,
    result: &RunResult,
    said: &FrameResult,
    exact: &[Option<LoadPoint>],
) {
    let until = result
        .events
        .iter()
        .filter(|e| e.kind != EventKind::Yield)
        .filter_map(|e| e.t_s)
        .fold(f64::INFINITY, f64::min);
    let mut highest = f64::NEG_INFINITY;
    let points: Vec<LoadPoint> = exact
        .iter()
        .flatten()
        .filter(|p| p.t_s < until)
        .filter(|p| {
            let up = p.pressure_kpa > highest;
            highest = highest.max(p.pressure_kpa);
            up
        })
        .copied()
        .collect();
    let share = Settings::default().frame.yield_offset_share;
    let began = yield_break(&points, share);
    // The window of the slope ends at the yield that was said, as its method says.
    let end = said.yield_load.value.unwrap_or(f64::INFINITY);
    let line = elastic_line(&points, end).ok();
    add("compliance", line.map(|l| l.slope), &said.compliance);
    add("yield load", began.map(|b| b.x_break), &said.yield_load);
    add(
        "yield diameter",
        began.map(|b| b.y_break),
        &said.yield_diameter,
    );
    let before = run.diameters.as_ref().map(|d| d.before_mm);
    let offset = line
        .zip(before)
        .and_then(|(line, before)| offset_yield(&points, &line, share * before));
    add(
        "yield load by offset",
        offset.map(|o| o.load_kpa),
        &said.offset_yield_load,
    );
    add(
        "yield diameter by offset",
        offset.map(|o| o.diameter_mm),
        &said.offset_yield_diameter,
    );
    let band = run.band_height_mm;
    let work = line
        .zip(band)
        .map(|(line, band)| ring_work(&points, Some(line.intercept), band));
    add("work on the ring", work, &said.work);
    let stored = line
        .zip(band)
        .zip(points.last())
        .map(|((line, band), last)| {
            0.25e-3 * PI * last.load_kpa.powi(2) * line.slope * last.diameter_mm * band
        });
    add("elastic energy", stored, &said.energy_stored);
    hardening(add, said, &points);
}

/// Slopes of the exact points on both sides of the break that was said.
fn hardening(add: &mut AddFrame<'_>, said: &FrameResult, points: &[LoadPoint]) {
    let Some(end) = said.yield_load.value else {
        return;
    };
    let points = up_to_highest_load(points);
    let slope = |right: bool| {
        let (x, y): (Vec<f64>, Vec<f64>) = points
            .iter()
            .filter(|p| (p.load_kpa > end) == right)
            .map(|p| (p.load_kpa, p.diameter_mm))
            .unzip();
        crate::fit::straight_line(&x, &y, None)
            .ok()
            .map(|line| line.slope)
    };
    let (left, right) = (slope(false), slope(true));
    add("hardening", right.map(|s| 1.0 / s), &said.hardening);
    let ratio = left.zip(right).map(|(left, right)| left / right);
    add("hardening ratio", ratio, &said.hardening_ratio);
}

/// The true fracture that the first one found is.
fn same<'t>(run: &'t TrueRun, result: &RunResult) -> Option<(&'t TrueEvent, f64)> {
    let fracture = |e: &&Event| e.kind == EventKind::Fracture && e.t_s.is_some();
    let t_s = result.events.iter().find(fracture)?.t_s?;
    let near = |e: &&TrueEvent| e.kind == "fracture" && (e.t_s - t_s).abs() <= SAME_EVENT_S;
    Some((run.events.iter().find(near)?, t_s))
}

/// What is told by a fracture.
fn broken(
    add: &mut AddFrame<'_>,
    truth: &Truth,
    run: &TrueRun,
    result: &RunResult,
    said: &FrameResult,
    exact: &[Option<LoadPoint>],
) {
    let Some((event, t_s)) = same(run, result) else {
        return;
    };
    let line = LineModel {
        compliance_ml_per_kpa: truth.line.compliance_ml_per_kpa,
        air_ml: truth.line.trapped_air_ml,
        ambient_kpa: truth.line.ambient_kpa,
        covariance: [0.0; 3],
    };
    // What is pumped in meanwhile is not in what the line gives up: only in a hold is it nothing.
    let released = event
        .pressure_after_kpa
        .filter(|_| event.phase == PhaseKind::Hold)
        .map(|after| line_energy(&line, event.pressure_before_kpa, after).total());
    add("energy released", released, &said.energy_released);
    let tension = run
        .contact_length_mm
        .map(|length| event.ring_force_n / length);
    add("fracture tension", tension, &said.fracture_tension);
    let after = said
        .residual_load
        .value
        .and_then(|load| at_value(said, load))
        .and_then(|at| exact.get(at).copied().flatten());
    add(
        "residual load",
        after.map(|p| p.load_kpa),
        &said.residual_load,
    );
    add(
        "residual diameter",
        after.map(|p| p.diameter_mm),
        &said.residual_diameter,
    );
    let before = exact.iter().flatten().rfind(|p| p.t_s < t_s);
    let share = after
        .zip(before)
        .map(|(after, before)| after.load_kpa / before.load_kpa);
    add("residual share", share, &said.residual_share);
}
