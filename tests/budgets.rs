//! Budgets of the sample studies: what contributes to an uncertainty makes the uncertainty that is told.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use hooptrace::pipeline::{Options, analyse, open_study};
use hooptrace::recording::RunResult;
use hooptrace::uncertain::Quantity;
use std::path::Path;

fn told<'r>(run: &'r RunResult, name: &str) -> Option<&'r Quantity> {
    let diameters = run.diameters.as_ref();
    Some(match name {
        "diameters.before" => &diameters?.before,
        "diameters.loaded" => &diameters?.loaded,
        "diameters.after" => &diameters?.after,
        "diameters.at_event" => &diameters?.at_event,
        "line.compliance" => &run.line.as_ref()?.compliance,
        "line.trapped_air" => &run.line.as_ref()?.trapped_air,
        _ => {
            let stage = name.strip_prefix("flow.")?.split('.').next()?;
            &run.flow.get(stage)?.effective_orifice_area
        }
    })
}

/// The root of the sum of squares (JCGM 100, 5.1.2) is the standard uncertainty of the result, widened at most for few degrees of freedom.
#[test]
fn components_make_the_uncertainty_that_is_told() {
    let mut seen = std::collections::BTreeSet::new();
    for study in ["first-look", "harbour-ring"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("sample-runs")
            .join(study);
        let study = open_study(&folder).unwrap();
        let done = analyse(&study, &Options::default(), &|_, _| {});
        let analysis = done.unwrap().analysis;
        for run in &analysis.runs {
            for (name, stated) in &run.budgets {
                let u = told(run, name)
                    .unwrap_or_else(|| panic!("{name}"))
                    .u
                    .unwrap();
                let squares: f64 = stated
                    .budget
                    .components
                    .iter()
                    .map(|component| component.contribution().powi(2))
                    .sum();
                let ratio = u / squares.sqrt();
                assert!(
                    (1.0 - 1e-6..2.0).contains(&ratio),
                    "{} {name}: {u} against {}",
                    run.run_id,
                    squares.sqrt()
                );
                if name.starts_with("line") || name == "diameters.at_event" {
                    assert!((ratio - 1.0).abs() < 1e-6, "{} {name}: {ratio}", run.run_id);
                }
                seen.insert(name.clone());
            }
        }
    }
    for name in [
        "diameters.at_event",
        "diameters.after",
        "line.compliance",
        "line.trapped_air",
    ] {
        assert!(seen.contains(name), "{seen:?}");
    }
}
