//! Flow records of a run: effective orifice area and gradient before and after.

use super::Study;
use crate::orifice::{FlowInstruments, measure_flow};
use crate::recording::{Finding, FlowResult, Place, RunResult, RunRow, Stage};
use crate::rig::Rig;
use crate::uncertain::{Quantity, StatedBudget, Trials};

/// Density of water at room temperature, used with a doubt where the rig declares none, g/mL.
const WATER_G_PER_ML: f64 = 1.0;
/// Square centimetres in a square millimetre.
const CM2_PER_MM2: f64 = 0.01;

/// Adds the flow figures of every record of the run.
pub(super) fn measure(
    study: &Study,
    rig: &Rig,
    run: &RunRow,
    trials: Option<Trials>,
    result: &mut RunResult,
) {
    for record in study.tables.flows.iter().filter(|f| f.run_id == run.run_id) {
        let stage = match record.stage {
            Stage::Before => "before",
            Stage::After => "after",
            Stage::Loaded => {
                result.findings.push(
                    Finding::note(
                        "flow-loaded",
                        "flow on the inflated balloon is not measured; the record is left out",
                    )
                    .at(Place::line("flow.csv", record.line))
                    .run(&run.run_id),
                );
                continue;
            }
        };
        let density = rig.density_g_per_ml.unwrap_or_else(|| {
            result.findings.push(
                Finding::doubt(
                    "density-assumed",
                    "the rig declares no fluid density; that of water, 1.0 g/mL, is used",
                )
                .at(Place::file(&rig.file))
                .help("add density_g_per_ml to [fluid]")
                .run(&run.run_id),
            );
            WATER_G_PER_ML
        });
        match measure_flow(record, density, &FlowInstruments::default()) {
            Err(error) => result.findings.push(
                Finding::doubt(
                    "flow-unusable",
                    format!("the flow record {stage} gives no orifice area: {error}"),
                )
                .at(Place::line("flow.csv", record.line))
                .run(&run.run_id),
            ),
            Ok(flow) => {
                result.budgets.insert(
                    format!("flow.{stage}.effective_orifice_area"),
                    StatedBudget::new("cm2", flow.budget.clone()),
                );
                if let Some(trials) = trials {
                    let label = format!("{}: flow.{stage}", run.run_id);
                    result
                        .monte_carlo
                        .extend(flow.by_trials(stage, &label, trials));
                }
                result
                    .findings
                    .extend(flow.findings.into_iter().map(|f| f.run(&run.run_id)));
                let geometric = result.areas.as_ref().map(|a| {
                    if stage == "before" {
                        &a.before
                    } else {
                        &a.after
                    }
                });
                result.flow.insert(
                    stage.to_owned(),
                    FlowResult {
                        discharge_coefficient: coefficient(&flow.effective_orifice_area, geometric),
                        effective_orifice_area: flow.effective_orifice_area,
                        mean_gradient: flow.mean_gradient,
                        rms_flow: flow.rms_flow,
                        beats: flow.beats.len(),
                    },
                );
            }
        }
    }
}

/// Effective over geometric area; the geometric one is that of the bore, an upper bound of the open area.
fn coefficient(effective_cm2: &Quantity, geometric_mm2: Option<&Quantity>) -> Quantity {
    match (effective_cm2.pair(), geometric_mm2.and_then(Quantity::pair)) {
        (Some((e, u_e)), Some((g, u_g))) if g > 0.0 => {
            let ratio = e / (CM2_PER_MM2 * g);
            Quantity::known(
                ratio,
                ratio * (u_e / e).hypot(u_g / g),
                "1",
                "effective orifice area over bore area pi D²/4",
            )
        }
        _ => Quantity::missing("1", "needs the effective and the bore area"),
    }
}
