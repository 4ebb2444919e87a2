//! Proof of the detector: simulated runs of known truth, written as studies, analysed as any study is, and compared: what
//! happened, and every measured quantity.
//!
//! The simulated bench shares nothing with the analysis but plain types, and the analysis reads the files it wrote: what is proven is the
//! whole way from a recording to an outcome. What the runs are is told by scenarios ([`crate::bench::Scenario`]); a laboratory may
//! describe its own bench in one and prove the detector for that.

mod bars;
mod compare;
mod frame;
mod own_bench;
mod quantities;
mod rates;
mod records;
mod words;

use crate::bench::{Plan, Scenario, write_study};
use crate::pipeline;
use crate::recording::Finding;
use rayon::prelude::*;
use std::path::Path;

pub use bars::{Bar, bars};
pub use compare::{Break, Found, Proven};
pub use own_bench::OwnBench;
pub use quantities::{Coverage, Family, Measured, coverage};
pub use rates::{CLEAR, Rates, Share, recall_by_size};
pub use records::{classes_csv, quantities_csv, runs_csv};
pub use words::summary;

/// What to prove.
#[derive(Debug, Clone)]
pub struct Order {
    /// Scenarios, with how many frame runs of each.
    pub scenarios: Vec<(Scenario, usize)>,
    /// Seed of everything random.
    pub seed: u64,
    /// Thresholds set otherwise than by default: name, and value as TOML writes it.
    pub settings: Vec<(String, String)>,
}

/// What came of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Proof {
    /// Frame runs: what happened and what was said to have happened.
    pub runs: Vec<Proven>,
    /// Measured quantities of every run whose truth is known.
    pub quantities: Vec<Measured>,
}

/// Shares runs out over scenarios by their shares, or evenly where none has one.
pub fn share_out(scenarios: Vec<Scenario>, runs: usize) -> Vec<(Scenario, usize)> {
    let whole: f64 = scenarios.iter().map(|s| s.share).sum();
    let even = 1.0 / scenarios.len().max(1) as f64;
    scenarios
        .into_iter()
        .map(|scenario| {
            let share = if whole > 0.0 {
                scenario.share / whole
            } else {
                even
            };
            let count = (share * runs as f64).round() as usize;
            (scenario, count)
        })
        .collect()
}

/// The studies of an order, each with the name of its scenario.
fn plans(order: &Order) -> Vec<(String, Plan)> {
    let mut plans = Vec::new();
    for (scenario, runs) in &order.scenarios {
        let mut left = *runs;
        let mut number = 0;
        while left > 0 {
            let mut plan = scenario.plan(order.seed, number);
            plan.settings.clone_from(&order.settings);
            let mut here = 0;
            plan.runs.retain(|run| {
                here += usize::from(run.frame.is_some());
                run.frame.is_none() || here <= left
            });
            left -= here.min(left);
            number += 1;
            plans.push((scenario.name.clone(), plan));
        }
    }
    plans
}

/// Simulates and analyses every run of an order in folders of its own below `scratch`. `progress` is told after every study: done, of how
/// many. The result does not depend on the number of threads.
///
/// # Errors
/// Error findings where a study cannot be written or analysed at all (a setting that is none, a full disk).
pub fn prove(
    order: &Order,
    scratch: &Path,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Proof, Vec<Finding>> {
    let plans = plans(order);
    let done = std::sync::atomic::AtomicUsize::new(0);
    let one = |(scenario, plan): &(String, Plan)| {
        let proven = one_study(scenario, plan, &scratch.join(&plan.name));
        let done = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
        progress(done, plans.len());
        proven
    };
    let studies: Result<Vec<Proof>, Vec<Finding>> =
        plans.par_iter().with_max_len(1).map(one).collect();
    let mut proof = Proof::default();
    for study in studies? {
        proof.runs.extend(study.runs);
        proof.quantities.extend(study.quantities);
    }
    Ok(proof)
}

fn one_study(scenario: &str, plan: &Plan, folder: &Path) -> Result<Proof, Vec<Finding>> {
    let truth = write_study(plan, folder).map_err(|error| {
        vec![Finding::error(
            "cannot-write",
            format!("{}: {error}", folder.display()),
        )]
    })?;
    let study = pipeline::open_study(folder)?;
    let analysed = pipeline::analyse(&study, &pipeline::Options::default(), &|_, _| {})?;
    Ok(Proof {
        runs: compare::compare(scenario, plan, &truth, &analysed.analysis),
        quantities: quantities::compare(scenario, plan, &truth, &analysed.analysis),
    })
}
