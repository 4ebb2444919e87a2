//! Other figures that the same record gives: named beside the effective area, never in its place.

use super::discharge::DischargeCoefficient;
use super::energy_loss::EnergyLoss;
use super::flow_record::FlowMeasure;
use super::formula::OrificeFormula;
use super::gorlin::GorlinAortic;
use super::hakki::Hakki;
use crate::uncertain::{Budget, Budgeted, Component, Quantity, propagate};

/// Millilitres in a litre.
const ML_PER_L: f64 = 1000.0;

/// Inputs with their uncertainties, or why the formula has none.
fn evaluate(formula: &dyn OrificeFormula, inputs: &[(&str, Option<(f64, f64)>)]) -> Budgeted {
    if let Some((name, _)) = inputs.iter().find(|(_, pair)| pair.is_none()) {
        let reason = format!("needs the {name} with its uncertainty");
        return Budgeted::missing(formula.unit(), reason);
    }
    let (x, u): (Vec<f64>, Vec<f64>) = inputs.iter().filter_map(|(_, pair)| *pair).unzip();
    let quantity = formula.evaluate(&x, &u);
    let found = propagate(|x| formula.equation_value(x), &x, &u, None);
    let slopes = found.map(|found| found.sensitivities).unwrap_or_default();
    let parts = inputs.iter().zip(&u).zip(&slopes);
    let budget = parts.filter(|((_, u), _)| **u > 0.0).fold(
        Budget::new(),
        |budget, (((name, _), u), slope)| {
            budget.with(Component::normal(*name, *u).sensitivity(*slope))
        },
    );
    Budgeted { quantity, budget }
}

/// Cardiac output of the record with a rate, in mL a minute: forward stroke volume times rate.
fn output(flow: &FlowMeasure, u_rate: bool) -> Option<(f64, f64)> {
    let (stroke, u_stroke) = flow.volumes.stroke_volume.pair()?;
    let (rate, u) = flow.volumes.rate.pair()?;
    let relative = if u_rate { u / rate } else { 0.0 };
    let output = stroke * rate;
    Some((output, output * (u_stroke / stroke).hypot(relative)))
}

/// Gorlin's area (aortic constant) from forward stroke volume, rate, and of the record the period of positive pressure difference with the
/// mean gradient over it: flow and gradient must be those of one period.
pub fn gorlin_of(flow: &FlowMeasure) -> Budgeted {
    // The rate is in the output as well, so its uncertainty cancels.
    let rate = flow.volumes.rate.value.map(|rate| (rate, 0.0));
    let mut area = evaluate(
        &GorlinAortic,
        &[
            ("cardiac output", output(flow, false)),
            ("rate", rate),
            ("positive-pressure period", flow.period.pair()),
            ("mean gradient", flow.mean_gradient.pair()),
        ],
    );
    if area.quantity.value.is_some() {
        area.quantity
            .method
            .push_str("; T = positive-pressure period, over which Δp is averaged");
    }
    name_inputs(&mut area.quantity);
    area
}

/// Hakki's area from output and mean gradient of the record.
pub fn hakki_of(flow: &FlowMeasure) -> Budgeted {
    let litres = output(flow, true).map(|(co, u)| (co / ML_PER_L, u / ML_PER_L));
    let mut area = evaluate(
        &Hakki,
        &[
            ("cardiac output", litres),
            ("mean gradient", flow.mean_gradient.pair()),
        ],
    );
    name_inputs(&mut area.quantity);
    area
}

fn name_inputs(area: &mut Quantity) {
    if area.value.is_some() {
        area.method.push_str(
            "; CO = forward stroke volume × rate of this record; for comparison with the effective area",
        );
    }
}

/// Discharge coefficient: effective area (cm²) over the geometric one of the bore (mm), which is an upper bound of the open area.
pub fn discharge_coefficient_of(area: &Quantity, bore: Option<&Quantity>) -> Budgeted {
    evaluate(
        &DischargeCoefficient,
        &[
            ("effective orifice area", area.pair()),
            ("bore", bore.and_then(Quantity::pair)),
        ],
    )
}

/// Energy-loss coefficient behind a valve in a tube of this diameter, mm, taken as stated.
pub fn energy_loss_of(area: &Quantity, tube_mm: Option<f64>) -> Budgeted {
    let Some(tube_mm) = tube_mm else {
        return Budgeted::missing(
            "cm2",
            "no aorta_diameter_mm is declared, neither in [flow] of the rig nor of a hypothetical patient",
        );
    };
    let mut loss = evaluate(
        &EnergyLoss,
        &[
            ("effective orifice area", area.pair()),
            ("diameter of the aorta", Some((tube_mm, 0.0))),
        ],
    );
    if loss.quantity.value.is_some() {
        let stated = format!("; D = {tube_mm} mm, taken as stated");
        loss.quantity.method.push_str(&stated);
    }
    loss
}
