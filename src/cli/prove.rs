//! `prove`: the detector against simulated runs of known truth.

use super::args;
use crate::bench::Scenario;
use crate::plot::{self, RecallPoint};
use crate::prove::{self, Order, OwnBench, Proof};
use crate::recording::Finding;
use crate::rig::{load_rig, settings};
use crate::table::{Output, write_folder};
use std::path::Path;

/// Pixels of the PNG for a pixel of the SVG.
const PNG_SCALE: f32 = 1.5;
/// Status where a demand is not met.
const NOT_MET: u8 = 1;

/// How it ended.
pub struct Ended {
    /// What to print.
    pub summary: String,
    /// Exit status.
    pub status: u8,
}

/// Proves the detector.
///
/// # Errors
/// Error findings where a scenario or setting is none, or a folder cannot be written.
pub fn run(
    args: &args::Prove,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Ended, Vec<Finding>> {
    together(&args.set)?;
    let rig = args
        .rig
        .as_deref()
        .map(|path| load_rig(path, &path.display().to_string()));
    let own = OwnBench {
        rig: rig.transpose()?.map(|(rig, _)| rig),
        noise_kpa: args.noise_kpa,
        rate_hz: args.rate_hz,
    };
    let scenarios = scenarios(&args.scenario)
        .and_then(|all| all.into_iter().map(|s| own.record(s)).collect())
        .map_err(|finding| vec![finding])?;
    let order = Order {
        scenarios: prove::share_out(scenarios, args.runs),
        seed: args.seed,
        settings: Vec::new(),
    };
    let scratch = tempfile::tempdir().map_err(|error| {
        vec![Finding::error(
            "cannot-write",
            format!("no folder for temporary files can be made: {error}"),
        )]
    })?;
    let proof = prove::prove(&order, &scratch.path().join("default"), progress)?;
    let mut summary = prove::summary(&proof, &[]);
    let mut met = prove::bars(&proof).iter().all(prove::Bar::is_met);
    let mut outputs = outputs(&proof, "")?;
    if !args.set.is_empty() {
        let changed = Order {
            settings: args.set.clone(),
            ..order
        };
        let proof = prove::prove(&changed, &scratch.path().join("changed"), progress)?;
        summary.push_str("\n\n");
        summary.push_str(&prove::summary(&proof, &args.set));
        met = prove::bars(&proof).iter().all(prove::Bar::is_met);
        outputs.extend(self::outputs(&proof, "-changed")?);
    }
    if let Some(out) = &args.out {
        outputs.push(Output {
            path: "prove.txt".to_owned(),
            bytes: summary.clone().into_bytes(),
        });
        write_folder(out, &outputs)
            .map_err(|error| vec![Finding::error("cannot-write", error.to_string())])?;
    }
    Ok(Ended {
        summary,
        status: if met { 0 } else { NOT_MET },
    })
}

/// Looks whether settings that are sound one by one are so together.
fn together(set: &[(String, String)]) -> Result<(), Vec<Finding>> {
    let lines: Vec<String> = set.iter().map(|(n, v)| format!("{n} = {v}\n")).collect();
    match settings::read_text(&lines.concat()) {
        Ok(_) => Ok(()),
        Err(faults) => Err(vec![Finding::error("settings", args::in_words(&faults))]),
    }
}

/// The scenarios of these names or files; all that come with the program where none is named.
fn scenarios(words: &[String]) -> Result<Vec<Scenario>, Finding> {
    if words.is_empty() {
        return Scenario::all();
    }
    words.iter().map(|word| Scenario::open(word)).collect()
}

/// The tables and the plot.
fn outputs(proof: &Proof, ending: &str) -> Result<Vec<Output>, Vec<Finding>> {
    let runs = &proof.runs;
    let failed =
        |error: &dyn std::fmt::Display| vec![Finding::error("cannot-write", error.to_string())];
    let points: Vec<RecallPoint> = prove::recall_by_size(runs)
        .into_iter()
        .filter_map(|(from, to, share)| {
            Some(RecallPoint {
                over_noise: (from, to),
                recall: share.value()?,
                limits: share.limits()?,
            })
        })
        .collect();
    let svg = plot::recall(&points, prove::CLEAR).map_err(|error| failed(&error))?;
    let png = plot::png(&svg, PNG_SCALE).map_err(|error| failed(&error))?;
    let output = |name: &str, kind: &str, bytes| Output {
        path: format!("{name}{ending}.{kind}"),
        bytes,
    };
    Ok(vec![
        output(
            "runs",
            "csv",
            prove::runs_csv(runs).map_err(|error| failed(&error))?,
        ),
        output(
            "classes",
            "csv",
            prove::classes_csv(runs).map_err(|error| failed(&error))?,
        ),
        output(
            "quantities",
            "csv",
            prove::quantities_csv(&proof.quantities).map_err(|error| failed(&error))?,
        ),
        output("recall", "svg", svg.into_bytes()),
        output("recall", "png", png),
    ])
}

/// Simulates studies of a scenario, or the sample studies where none is named, into a folder.
///
/// # Errors
/// Error findings where the scenario is none or the folder cannot be written.
pub fn simulate(
    scenario: Option<&str>,
    seed: u64,
    studies: usize,
    out: &Path,
) -> Result<(), Vec<Finding>> {
    let plans = match scenario {
        None => crate::bench::sample_plans(),
        Some(word) => {
            let scenario = Scenario::open(word).map_err(|finding| vec![finding])?;
            (0..studies)
                .map(|number| scenario.plan(seed, number))
                .collect()
        }
    };
    for plan in plans {
        crate::bench::write_with_truth(&plan, out).map_err(|error| {
            vec![Finding::error(
                "cannot-write",
                format!("{}: {error}", out.display()),
            )]
        })?;
    }
    Ok(())
}
