//! `hooptrace plan`: what was asked, planned, as text or JSON.

use super::plan_args::{self, Plan};
use super::plan_words;
use super::to_json;
use crate::bench::Scenario;
use crate::judge::load_protocol;
use crate::plan::{self, Bore, PowerOrder, StepsOrder, VariableOrder};
use crate::read::read_results;
use crate::recording::Finding;

/// Makes the plan; gives the report for standard output.
///
/// # Errors
/// Error findings where what is asked makes no sense or cannot be had.
pub fn run(what: &Plan, progress: &(dyn Fn(usize, usize) + Sync)) -> Result<String, Vec<Finding>> {
    match what {
        Plan::Attribute(args) => {
            let plan =
                plan::attribute(args.confidence, args.reliability, args.failures, args.bayes);
            told(args.json, &one(plan)?, plan_words::attribute)
        }
        Plan::Variable(args) => {
            let limits = args.limits().ok_or_else(|| {
                vec![Finding::error(
                    "plan-variable",
                    "found no limit; expected --limit, or --lower and --upper",
                )]
            })?;
            let order = VariableOrder {
                limits,
                mean: args.mean,
                sd: args.sd,
                unit: args.unit.clone(),
                coverage: args.coverage,
                confidence: args.confidence,
                power: args.power,
            };
            told(
                args.json,
                &one(plan::variable(order))?,
                plan_words::variable,
            )
        }
        Plan::Power(args) => told(args.json, &power(args, progress)?, plan_words::power),
        Plan::Steps(args) => told(args.json, &one(steps(args))?, plan_words::steps),
    }
}

fn one<T>(planned: Result<T, Finding>) -> Result<T, Vec<Finding>> {
    planned.map_err(|finding| vec![finding])
}

fn told<T: serde::Serialize>(
    json: bool,
    plan: &T,
    words: impl Fn(&T) -> String,
) -> Result<String, Vec<Finding>> {
    if json {
        to_json(&plan)
    } else {
        Ok(words(plan))
    }
}

fn power(
    args: &plan_args::Power,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<plan::Power, Vec<Finding>> {
    let order = PowerOrder {
        protocol: load_protocol(&args.protocol, &args.protocol.display().to_string())?,
        arm: args.arm.clone(),
        scenario: one(Scenario::open(&args.scenario))?,
        construction: args.construction.clone(),
        frames: args.frames,
        studies: args.studies,
        seed: args.seed,
    };
    let scratch = tempfile::tempdir().map_err(|error| {
        vec![Finding::error(
            "cannot-write",
            format!("no folder for temporary files can be made: {error}"),
        )]
    })?;
    plan::power(order, scratch.path(), progress)
}

fn steps(args: &plan_args::Steps) -> Result<plan::Steps, Finding> {
    if let Some(size) = &args.label_size {
        return Err(Finding::error(
            "plan-label-size",
            format!("found a label size ({size} mm); expected --true-id or --stent-id: a label size is no diameter, frames of one label size differ by millimetres in their true inner diameter"),
        )
        .help("measure the frame, with a plug or a caliper"));
    }
    let (what, mm) = match (args.true_id, args.stent_id) {
        (Some(mm), _) => ("true inner diameter", mm),
        (None, Some(mm)) => ("stent inner diameter", mm),
        (None, None) => {
            return Err(Finding::error(
                "plan-no-diameter",
                "found no diameter of the frame; expected --true-id (or --stent-id), mm",
            )
            .help("measure the frame, with a plug or a caliper; a label size is no diameter"));
        }
    };
    let order = StepsOrder {
        balloon_id: args.balloon.clone(),
        bore: Bore {
            what,
            mm,
            u_mm: args.u_id,
        },
        to_diameter_mm: args.to_diameter,
        step_atm: args.step_atm,
        most_share_of_rated: args.max_share_of_rated,
        group: args.group.clone(),
    };
    let results = read_results(&args.from)?;
    plan::steps(&order, &results, &args.from.display().to_string())
}
