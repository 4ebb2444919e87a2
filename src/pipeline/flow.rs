//! Flow records of a run: effective orifice area, gradient and regurgitation before and after; a surrogate where there is no record.

use super::Study;
use super::checks::table_file;
use crate::orifice::{
    FlowInstruments, FlowMeasure, discharge_coefficient_of, energy_loss_of, gorlin_of, hakki_of,
    indexed_of, measure_flow, surrogate_range_of,
};
use crate::recording::{Finding, FlowRecord, FlowResult, Place, RunResult, RunRow, Stage};
use crate::rig::Rig;
use crate::uncertain::{Quantity, Trials};

/// A discharge coefficient above 1 by so many standard uncertainties is none.
const ABOVE_SIGMAS: f64 = 2.0;
/// Density of water at room temperature, used with a doubt where the rig declares none, g/mL.
const WATER_G_PER_ML: f64 = 1.0;
/// Stages of a flow record. On the inflated balloon nothing flows.
const STAGES: [Stage; 2] = [Stage::Before, Stage::After];

/// Adds the flow figures of every record of the run, and what stands in where there is none.
pub(super) fn measure(
    study: &Study,
    rig: &Rig,
    run: &RunRow,
    trials: Option<Trials>,
    result: &mut RunResult,
) {
    let mut records: Vec<&FlowRecord> = Vec::new();
    for record in study.tables.flows.iter().filter(|f| f.run_id == run.run_id) {
        if STAGES.contains(&record.stage) {
            records.push(record);
        } else {
            result.findings.push(
                Finding::note(
                    "flow-loaded",
                    "flow on the inflated balloon is not measured; the record is left out",
                )
                .at(Place::line(table_file(&study.inputs, "flow"), record.line))
                .run(&run.run_id),
            );
        }
    }
    if !records.is_empty() {
        let (instruments, findings) = instruments(rig);
        let findings = findings.into_iter().map(|f| f.run(&run.run_id));
        result.findings.extend(findings);
        for record in records {
            add(study, rig, record, &instruments, trials, result);
        }
    }
    surrogates(result);
}

/// What the instruments are worth, with a doubt for what the rig leaves open.
fn instruments(rig: &Rig) -> (FlowInstruments, Vec<Finding>) {
    let (instruments, assumed) = FlowInstruments::declared(&rig.flow);
    let mut findings = Vec::new();
    if rig.density_g_per_ml.is_none() {
        findings.push(
            Finding::doubt(
                "density-assumed",
                "the rig declares no fluid density; that of water, 1.0 g/mL, is used",
            )
            .at(Place::file(&rig.file))
            .help("add density_g_per_ml to [fluid]"),
        );
    }
    if !assumed.is_empty() {
        findings.push(
            Finding::doubt(
                "flow-instruments-assumed",
                format!(
                    "the rig does not declare {} of the flow loop; usual standard uncertainties are used: flow {} %, its zero {} mL/s, pressure difference {} %, its zero {} mmHg, density {} %",
                    assumed.join(", "),
                    100.0 * instruments.u_flow_rel,
                    instruments.u_flow_zero_ml_s,
                    100.0 * instruments.u_dp_rel,
                    instruments.u_dp_zero_mmhg,
                    100.0 * instruments.u_density_rel,
                ),
            )
            .at(Place::file(&rig.file))
            .help("declare them under [flow], from the certificates of probe and transducers"),
        );
    }
    (instruments, findings)
}

/// Measures one record.
fn add(
    study: &Study,
    rig: &Rig,
    record: &FlowRecord,
    instruments: &FlowInstruments,
    trials: Option<Trials>,
    result: &mut RunResult,
) {
    let stage = record.stage.word();
    let density = rig.density_g_per_ml.unwrap_or(WATER_G_PER_ML);
    let flow = match measure_flow(record, density, instruments) {
        Ok(flow) => flow,
        Err(error) => {
            result.findings.push(
                Finding::doubt(
                    "flow-unusable",
                    format!("the flow record {stage} gives no orifice area: {error}"),
                )
                .at(Place::line(table_file(&study.inputs, "flow"), record.line))
                .run(&record.run_id),
            );
            return;
        }
    };
    if let Some(trials) = trials {
        let label = format!("{}: flow.{stage}", record.run_id);
        let by_trials = flow.by_trials(stage, &label, trials);
        result.monte_carlo.extend(by_trials);
    }
    let at = || Place::line(table_file(&study.inputs, "flow"), record.line);
    let findings = flow.findings.iter().cloned();
    let findings = findings.map(|f| f.at(at()).run(&record.run_id));
    result.findings.extend(findings);
    let bore = result.diameters.as_ref().map(|d| match record.stage {
        Stage::Before => &d.before,
        _ => &d.after,
    });
    let tube = study.file.hypothetical_patient;
    let tube = tube.and_then(|patient| patient.aorta_diameter_mm);
    let area = &flow.effective_orifice_area;
    let coefficient = discharge_coefficient_of(area, bore);
    let above = above_bore(&coefficient.quantity, stage);
    result
        .findings
        .extend(above.map(|finding| finding.at(at()).run(&record.run_id)));
    let further = [
        ("discharge_coefficient", coefficient),
        ("gorlin", gorlin_of(&flow)),
        ("hakki", hakki_of(&flow)),
        (
            "energy_loss",
            energy_loss_of(area, tube.or(rig.flow.aorta_diameter_mm)),
        ),
    ];
    let of_further = further.iter();
    let of_further = of_further.filter_map(|(name, figure)| Some((*name, figure.stated()?)));
    let budgets = flow.budgets().into_iter().chain(of_further);
    let budgets = budgets.map(|(name, stated)| (format!("flow.{stage}.{name}"), stated));
    result.budgets.extend(budgets);
    let further = further.map(|(_, figure)| figure.quantity);
    result
        .flow
        .insert(stage.to_owned(), figures(study, flow, further));
}

/// A doubt where the orifice of a stage is larger than the bore it lies in.
fn above_bore(coefficient: &Quantity, stage: &str) -> Option<Finding> {
    let (value, u) = coefficient.pair()?;
    (value > 1.0 + ABOVE_SIGMAS * u).then(|| {
        let message = format!(
            "flow {stage}: the effective orifice area is {value:.2} times the geometric area of the bore, and cannot be above it"
        );
        Finding::doubt("area-above-bore", message)
            .help("check units and zero of flow and pressure difference, and the diameter")
    })
}

fn figures(
    study: &Study,
    flow: FlowMeasure,
    [discharge_coefficient, gorlin, hakki, energy_loss]: [Quantity; 4],
) -> FlowResult {
    let patient = study.file.hypothetical_patient;
    FlowResult {
        discharge_coefficient,
        gorlin,
        hakki,
        hypothetical_patient: patient
            .map(|patient| indexed_of(&patient, &flow.effective_orifice_area, &energy_loss)),
        energy_loss,
        effective_orifice_area: flow.effective_orifice_area,
        mean_gradient: flow.mean_gradient,
        rms_flow: flow.rms_flow,
        beats: flow.beats.len(),
        stroke_volume: flow.volumes.stroke_volume,
        closing_volume: flow.volumes.closing_volume,
        leakage_volume: flow.volumes.leakage_volume,
        regurgitant_fraction: flow.volumes.regurgitant_fraction,
    }
}

/// What the bore might be worth at stages without flow figures.
fn surrogates(result: &mut RunResult) {
    let Some(diameters) = &result.diameters else {
        return;
    };
    let Some(areas) = &mut result.areas else {
        return;
    };
    for (stage, bore) in STAGES.iter().zip([&diameters.before, &diameters.after]) {
        let word = stage.word();
        if result.flow.contains_key(word) || bore.value.is_none() {
            continue;
        }
        areas
            .surrogate
            .insert(word.to_owned(), surrogate_range_of(bore));
    }
}
