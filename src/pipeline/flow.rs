//! Flow records of a run: effective orifice area, gradient and regurgitation before and after; a surrogate where there is no record.

use super::Study;
use crate::orifice::{
    CUT_OFFS, DISCHARGE_RANGE, DischargeSurrogate, EnergyLossIndex, FlowInstruments, FlowMeasure,
    IndexedArea, OrificeFormula, body_mass_index, body_surface, class_of, energy_loss_of,
    gorlin_of, hakki_of, measure_flow,
};
use crate::recording::{
    Finding, FlowRecord, FlowResult, HYPOTHETICAL, IndexedResult, MismatchRow, Place, RunResult,
    RunRow, Stage, SurrogateRange,
};
use crate::rig::{HypotheticalPatient, Rig};
use crate::uncertain::{Quantity, StatedBudget, Trials};

/// Density of water at room temperature, used with a doubt where the rig declares none, g/mL.
const WATER_G_PER_ML: f64 = 1.0;
/// Square centimetres in a square millimetre.
const CM2_PER_MM2: f64 = 0.01;
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
                .at(Place::line("flow.csv", record.line))
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
                .at(Place::line("flow.csv", record.line))
                .run(&record.run_id),
            );
            return;
        }
    };
    result.budgets.insert(
        format!("flow.{stage}.effective_orifice_area"),
        StatedBudget::new("cm2", flow.budget.clone()),
    );
    if let Some(trials) = trials {
        let label = format!("{}: flow.{stage}", record.run_id);
        let by_trials = flow.by_trials(stage, &label, trials);
        result.monte_carlo.extend(by_trials);
    }
    let findings = flow.findings.iter().cloned();
    let findings = findings.map(|f| f.run(&record.run_id));
    result.findings.extend(findings);
    let geometric = result.areas.as_ref().map(|a| match record.stage {
        Stage::Before => &a.before,
        _ => &a.after,
    });
    let coefficient = coefficient(&flow.effective_orifice_area, geometric);
    let figures = figures(study, rig, flow, coefficient);
    result.flow.insert(stage.to_owned(), figures);
}

fn figures(study: &Study, rig: &Rig, flow: FlowMeasure, coefficient: Quantity) -> FlowResult {
    let patient = study.file.hypothetical_patient;
    let tube = patient
        .and_then(|patient| patient.aorta_diameter_mm)
        .or(rig.flow.aorta_diameter_mm);
    let energy_loss = energy_loss_of(&flow.effective_orifice_area, tube);
    FlowResult {
        discharge_coefficient: coefficient,
        gorlin: gorlin_of(&flow),
        hakki: hakki_of(&flow),
        hypothetical_patient: patient
            .map(|patient| indexed(&patient, &flow.effective_orifice_area, &energy_loss)),
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

/// An area against the body of a hypothetical patient.
fn indexed(
    patient: &HypotheticalPatient,
    area: &Quantity,
    energy_loss: &Quantity,
) -> IndexedResult {
    const SUPPOSED: &str = "height and weight are supposed, not measured";
    let bmi = body_mass_index(patient.height_cm, patient.weight_kg);
    let formula = body_surface(patient.bsa_formula);
    let surface = formula.map(|f| f.area_m2(patient.height_cm, patient.weight_kg));
    let over_surface = |formula: &dyn OrificeFormula, area: &Quantity| match (area.pair(), surface)
    {
        (Some((value, u)), Some(surface)) => formula.evaluate(&[value, surface], &[u, 0.0]),
        _ => Quantity::missing(
            formula.unit(),
            area.reason
                .clone()
                .unwrap_or_else(|| "there is no area to index".to_owned()),
        ),
    };
    let indexed_area = over_surface(&IndexedArea, area);
    let class = class_of(bmi);
    IndexedResult {
        note: HYPOTHETICAL,
        height_cm: patient.height_cm,
        weight_kg: patient.weight_kg,
        body_mass_index: Quantity::without_u(bmi, "kg/m2", "W/H²", SUPPOSED),
        body_surface: match (formula, surface) {
            (Some(f), Some(surface)) => Quantity::without_u(
                surface,
                "m2",
                format!("{}: {}, {}", f.name, f.equation, f.source),
                SUPPOSED,
            ),
            _ => Quantity::missing("m2", "no formula of body surface"),
        },
        energy_loss_index: over_surface(&EnergyLossIndex, energy_loss),
        mismatch: CUT_OFFS
            .iter()
            .enumerate()
            .map(|(i, cut_offs)| MismatchRow {
                body_mass: cut_offs.body_mass,
                applies: i == class,
                severe_at_most: cut_offs.severe_at_most,
                moderate_at_most: cut_offs.moderate_at_most,
                mismatch: cut_offs.said(&indexed_area),
            })
            .collect(),
        indexed_area,
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
        let [low, high] = [DISCHARGE_RANGE.0, DISCHARGE_RANGE.1].map(|cd| surrogate(bore, cd));
        areas
            .surrogate
            .insert(word.to_owned(), SurrogateRange { low, high });
    }
}

/// The surrogate of a bore at a discharge coefficient. How far off the coefficient may be is the range, not the uncertainty.
fn surrogate(bore: &Quantity, cd: f64) -> Quantity {
    let formula = &DischargeSurrogate;
    let mut area = match bore.pair() {
        Some((d, u)) => formula.evaluate(&[d, cd], &[u, 0.0]),
        None => match formula.compute(&[bore.value.unwrap_or(f64::NAN), cd]) {
            Ok(area) => Quantity::without_u(
                area,
                formula.unit(),
                formula.equation(),
                "the bore has no uncertainty",
            ),
            Err(error) => Quantity::missing(formula.unit(), error.to_string()),
        },
    };
    area.method = format!(
        "surrogate, no effective orifice area: {}: {cd}; {}",
        formula.equation(),
        formula.source()
    );
    area
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
