//! Budgets of the sample studies: what contributes to an uncertainty makes the uncertainty that is told.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use hooptrace::measure::mechanics::{Correlation, diameter_changes};
use hooptrace::pipeline::{Options, analyse, open_study};
use hooptrace::uncertain::{Component, Quantity};
use std::collections::BTreeSet;
use std::path::Path;

/// Normal quantile of 97.5 % (any table).
const NORMAL_QUANTILE: f64 = 1.959_963_984_540_054;
/// Budgets that must be among them, by where their quantity stands in a run.
const EXPECTED: [&str; 47] = [
    "areas.after",
    "areas.before",
    "areas.gain",
    "balloon.compliance",
    "balloon.diameter_at_nominal",
    "balloon.diameter_at_rated",
    "balloon.growth_per_atm",
    "diameters.after",
    "diameters.at_event",
    "diameters.by_method.outline_area.after",
    "diameters.by_method.plug_inscribed.after",
    "diameters.loaded",
    "diameters.recoil",
    "diameters.recovery",
    "diameters.set",
    "diameters.set_ratio",
    "flow.after.discharge_coefficient",
    "flow.after.effective_orifice_area",
    "flow.after.gorlin",
    "flow.after.hakki",
    "flow.after.mean_gradient",
    "flow.after.leakage_volume",
    "flow.after.regurgitant_fraction",
    "flow.after.rms_flow",
    "flow.after.stroke_volume",
    "frame.compliance",
    "frame.energy_released",
    "frame.energy_stored",
    "frame.equivalent_modulus",
    "frame.fracture_load",
    "frame.fracture_tension",
    "frame.hardening",
    "frame.hardening_ratio",
    "frame.loop_work",
    "frame.offset_yield_diameter",
    "frame.offset_yield_load",
    "frame.oversize_true_id",
    "frame.oversize_true_id_ratio",
    "frame.peak_force",
    "frame.peak_load",
    "frame.peak_tension",
    "frame.residual_load",
    "frame.work",
    "frame.yield_diameter",
    "frame.yield_load",
    "line.compliance",
    "line.trapped_air",
];

/// The root of the sum of squares (JCGM 100, 5.1.2) is the standard uncertainty of the result; of what rests on few beats that is U / 1.959964
/// (README, "Budget").
#[test]
fn components_make_the_uncertainty_that_is_told() {
    let mut seen = BTreeSet::new();
    for study in ["first-look", "harbour-ring"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("sample-runs")
            .join(study);
        let study = open_study(&folder).unwrap();
        let done = analyse(&study, &Options::default(), &|_, _| {});
        for run in &done.unwrap().analysis.runs {
            let said = serde_json::to_value(run).unwrap();
            for (path, stated) in &run.budgets {
                let quantity = path.split('.').fold(&said, |at, name| &at[name]);
                let u = quantity["u"].as_f64();
                let u = u.unwrap_or_else(|| panic!("{}: {path} has no uncertainty", run.run_id));
                let unit = quantity["unit"].as_str();
                assert_eq!(unit, Some(stated.unit.as_str()), "{path}");
                let components = stated.budget.components.iter();
                let squares: f64 = components.map(|c| (c.sensitivity * c.u).powi(2)).sum();
                let few =
                    path.starts_with("flow.") && stated.effective_degrees_of_freedom.is_some();
                let meant = if few {
                    stated.expanded.unwrap() / NORMAL_QUANTILE
                } else {
                    squares.sqrt()
                };
                let near = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-6;
                assert!(
                    near(squares.sqrt(), stated.combined) && near(meant, u),
                    "{} {path}: {} or {meant}, not {u}",
                    run.run_id,
                    squares.sqrt()
                );
                seen.insert(path.clone());
            }
        }
    }
    for path in EXPECTED {
        assert!(seen.contains(path), "{path} is not among {seen:?}");
    }
}

/// Two diameters of u = 0.02 mm that share a bias of 0.02/sqrt(2) mm: of a set 0.02/sqrt(2) mm each are alone, and what both share falls out.
#[test]
fn what_two_diameters_share_falls_out_of_their_difference() {
    let known = |value| Quantity::known(value, 0.02, "mm", "caliper");
    let shared = 0.02 / 2.0_f64.sqrt();
    let changes = diameter_changes(
        &known(20.0),
        &known(22.0),
        &known(21.0),
        Correlation::of_all(shared),
        None,
    );
    let of = |path: &str| {
        let found = changes.budgets.iter().find(|(name, _)| *name == path);
        found.map(|(_, stated)| stated.clone()).unwrap()
    };
    let set = of("diameters.set");
    let parts: Vec<f64> = set
        .budget
        .components
        .iter()
        .map(Component::contribution)
        .collect();
    for (part, expected) in parts.iter().zip([shared, 0.0, shared]) {
        assert!((part - expected).abs() < 1e-9, "{parts:?}");
    }
    for (path, quantity) in [
        ("diameters.set", &changes.set),
        ("diameters.set_ratio", &changes.set_ratio),
        ("diameters.recoil", &changes.recoil),
        ("diameters.recovery", &changes.recovery),
        ("diameters.expansion", &changes.expansion),
        ("areas.gain", &changes.area_gain),
    ] {
        assert!(
            (of(path).combined - quantity.u.unwrap()).abs() < 1e-9,
            "{path}"
        );
    }
}
