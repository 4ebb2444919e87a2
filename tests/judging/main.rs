//! Statistics and verdicts of a study against printed and published values, on runs built for the purpose.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::excessive_precision,
    clippy::unreadable_literal
)]

mod any_quantity;
mod arms;
mod criteria;
mod doses;
mod methods;
mod observations;
mod protocol_file;
mod rated_burst;
mod series;
mod slow_falls;
mod steps;
mod told;
mod withheld;

use hooptrace::judge::{Protocol, comparisons, groups, protocol_from_text, verdicts};
use hooptrace::recording::{
    Areas, Comparison, Curve, Diameters, Event, EventKind, FrameResult, Grade, Group, GroupBy,
    Outcome, PressureByDefinition, PressureDefinition, RecordingInfo, RunKind, RunResult, Setup,
    Verdict,
};
use hooptrace::rig::{Series, Settings};
use hooptrace::uncertain::Quantity;
use std::collections::BTreeMap;

/// 1 atm in kPa, exact by definition.
const ATM: f64 = 101.325;
/// Fracture pressures of ten frames, atm: mean 9.39, s 0.458136 (by hand).
const MOULDED: [f64; 10] = [9.1, 8.8, 9.6, 10.2, 9.4, 8.9, 9.9, 9.3, 9.7, 9.0];
/// Fracture pressures of seven frames, atm; three more were stopped at 26.0.
const METAL: [f64; 7] = [19.5, 20.8, 21.4, 22.0, 22.7, 23.1, 24.2];

fn quantity(value: f64, unit: &str) -> Quantity {
    Quantity::known(value, 1e-3 * value.abs(), unit, "made for a test")
}

fn none(unit: &str) -> Quantity {
    Quantity::missing(unit, "not in this test")
}

/// A frame run of an outcome with its highest pressure, kPa.
fn run(name: &str, arm: &str, outcome: Outcome, highest_kpa: f64) -> RunResult {
    RunResult {
        budgets: BTreeMap::new(),
        monte_carlo: Vec::new(),
        run_id: name.to_owned(),
        kind: RunKind::Frame,
        frame_id: Some(format!("frame of {name}")),
        balloon_id: Some("B-1".to_owned()),
        arm: (!arm.is_empty()).then(|| arm.to_owned()),
        operator: None,
        started_at: None,
        trace: None,
        inspection: None,
        inner_valve: None,
        note: None,
        setup: Setup::default(),
        outcome,
        outcome_reason: String::new(),
        highest_pressure: quantity(highest_kpa, "kPa"),
        phases: Vec::new(),
        events: Vec::new(),
        line: None,
        balloon: None,
        frame: None,
        relaxation: Vec::new(),
        relaxation_reason: None,
        diameters: None,
        areas: None,
        photographs: Vec::new(),
        leaflets: Vec::new(),
        flow: BTreeMap::new(),
        observations: Vec::new(),
        adherence: Vec::new(),
        recording: RecordingInfo::default(),
        findings: Vec::new(),
    }
}

/// An event at a time and a pressure, or one known from the inspection only.
fn event(kind: EventKind, at: Option<(f64, f64)>) -> Event {
    Event {
        kind,
        t_s: at.map(|(t, _)| t),
        t_lo_s: None,
        t_hi_s: None,
        sample: None,
        pressure: at.map_or_else(|| none("kPa"), |(_, p)| quantity(p, "kPa")),
        drop: none("kPa"),
        volume: none("mL"),
        pressures: Vec::new(),
        confidence: 0.9,
        log_odds: Vec::new(),
        grade: if at.is_some() {
            Grade::Agree
        } else {
            Grade::InspectionOnly
        },
        evidence: Vec::new(),
        before: 0,
        after: 0,
    }
}

/// A run that fractured at a pressure, kPa, and went on a little higher.
fn fractured(name: &str, arm: &str, kpa: f64) -> RunResult {
    let mut made = run(name, arm, Outcome::Fractured, 1.02 * kpa);
    made.events = vec![event(EventKind::Fracture, Some((10.0, kpa)))];
    made
}

/// Runs of an arm: fractures, and runs stopped without one, kPa.
fn arm(name: &str, fractures: &[f64], stopped: &[f64]) -> Vec<RunResult> {
    let broken = fractures.iter().map(|&kpa| (kpa, true));
    broken
        .chain(stopped.iter().map(|&kpa| (kpa, false)))
        .enumerate()
        .map(|(i, (kpa, broke))| {
            let id = format!("{name}-{i}");
            if broke {
                fractured(&id, name, kpa)
            } else {
                run(&id, name, Outcome::Stretched, kpa)
            }
        })
        .collect()
}

fn in_kpa(atm: &[f64]) -> Vec<f64> {
    atm.iter().map(|p| p * ATM).collect()
}

/// Gives a run a set ratio, a diameter after (mm) and an area gain.
fn with_diameters(mut made: RunResult, set_ratio: f64, after: f64, gain: f64) -> RunResult {
    made.diameters = Some(Diameters {
        before: none("mm"),
        loaded: none("mm"),
        after: quantity(after, "mm"),
        at_event: none("mm"),
        set: none("mm"),
        set_ratio: quantity(set_ratio, "1"),
        recoil: none("1"),
        recovery: none("1"),
        expansion: none("1"),
        after_measured: "at once".to_owned(),
        open_ring: None,
        three_lobe_amplitude: BTreeMap::new(),
        outline_fits: BTreeMap::new(),
        by_method: BTreeMap::new(),
    });
    made.areas = Some(Areas {
        before: none("mm2"),
        loaded: none("mm2"),
        after: none("mm2"),
        gain: quantity(gain, "1"),
        surrogate: BTreeMap::new(),
    });
    made
}

/// A frame of which only its oversize is known, mm.
fn frame_with_oversize(mm: f64) -> FrameResult {
    FrameResult {
        budgets: Vec::new(),
        construction: None,
        peak_pressure: none("1"),
        peak_over_rated: none("1"),
        peak_load: none("1"),
        peak_tension: none("1"),
        fracture_load: none("kPa"),
        fracture_tension: none("N/mm"),
        peak_force: none("1"),
        compliance: none("1"),
        equivalent_modulus: none("MPa"),
        yield_load: none("1"),
        yield_diameter: none("1"),
        offset_yield_load: none("1"),
        offset_yield_diameter: none("1"),
        hardening: none("1"),
        hardening_ratio: none("1"),
        work: none("1"),
        energy_stored: none("1"),
        energy_released: none("1"),
        loop_work: none("mJ"),
        residual_load: none("1"),
        residual_share: none("1"),
        residual_diameter: none("1"),
        oversize_true_id: quantity(mm, "mm"),
        oversize_true_id_ratio: none("1"),
        oversize_stent_id: none("1"),
        oversize_stent_id_ratio: none("1"),
        diameter_source: String::new(),
        curve: Curve::default(),
        curve_time_s: Vec::new(),
        balloon_rated_kpa: None,
    }
}

/// Gives the first event of a run a pressure by a definition, kPa, with an upper end where it is a step.
fn by_definition(
    run: &mut RunResult,
    definition: PressureDefinition,
    kpa: f64,
    at_most: Option<f64>,
) {
    run.events[0].pressures.push(PressureByDefinition {
        definition,
        pressure: quantity(kpa, "kPa"),
        at_most: at_most.map(|kpa| quantity(kpa, "kPa")),
        budget: Vec::new(),
    });
}

fn grouped(runs: &[RunResult]) -> Vec<Group> {
    groups(runs, &Series::default(), &Settings::default())
}

fn series(columns: &[&str]) -> Series {
    let names: Vec<String> = columns.iter().map(|name| (*name).to_owned()).collect();
    Series {
        group_by: GroupBy::of(&names),
        ..Series::default()
    }
}

fn compared(runs: &[RunResult], series: &Series) -> Vec<Comparison> {
    let groups = groups(runs, series, &Settings::default());
    comparisons(runs, series, &groups, 0.95)
}

#[track_caller]
fn find<'c>(all: &'c [Comparison], name: &str, quantity: &str) -> &'c Comparison {
    all.iter()
        .find(|c| c.name == name && c.quantity == quantity)
        .unwrap_or_else(|| panic!("no {name} of {quantity} in {all:#?}"))
}

fn only(runs: &[RunResult]) -> Group {
    let mut all = grouped(runs);
    assert_eq!(all.len(), 1);
    all.remove(0)
}

fn protocol(text: &str) -> Protocol {
    protocol_from_text(text, "protocol.toml").unwrap()
}

fn judged(text: &str, runs: &[RunResult]) -> Vec<Verdict> {
    verdicts(&protocol(text), runs, &Series::default(), &grouped(runs))
}

#[track_caller]
fn one_verdict(text: &str, runs: &[RunResult], expected: &str) -> String {
    let all = judged(text, runs);
    assert_eq!(all.len(), 1, "{all:?}");
    assert_eq!(all[0].verdict, expected, "{}", all[0].reason);
    all[0].reason.clone()
}

/// Equal to `digits` decimals as printed.
#[track_caller]
fn printed(value: f64, expected: f64, decimals: i32) {
    let half = 0.5001 * 10f64.powi(-decimals);
    assert!(
        (value - expected).abs() <= half,
        "{value} is not {expected}"
    );
}

#[track_caller]
fn says(remarks: &[String], words: &str) {
    assert!(
        remarks.iter().any(|r| r.contains(words)),
        "no remark says \"{words}\": {remarks:#?}"
    );
}
