//! The largest plug gauge that passes: a lower bound of the largest inscribed diameter, never a mean diameter.

use crate::recording::{CaliperRow, Finding};
use crate::uncertain::{Budget, Component, Quantity};

/// Steps of plug sets met, mm, coarse to fine (common practice, no source).
const STEPS_MM: &[f64] = &[0.5, 0.25, 0.2, 0.1, 0.05, 0.02, 0.01, 0.001];
/// A value this near to a multiple of a step counts as one, mm: rounding of an inch value to 0.0001 in.
const ON_STEP_MM: f64 = 0.0015;
/// Steps coarser than this need several different values that all fit: one value of 22.5 does not make the set half-millimetres.
const COARSEST_FROM_FEW_MM: f64 = 0.1;
/// Different values that make a coarse step believable.
const VALUES_FOR_COARSE: usize = 5;

/// What the plugs say.
#[derive(Debug, Clone, PartialEq)]
pub struct PlugReading {
    /// Size of the largest plug that passed, mm: the largest inscribed diameter is at least this.
    pub largest_passing: Quantity,
    /// Estimate of the largest inscribed diameter, mm: the middle of the step above the largest that passed.
    pub inscribed_diameter: Quantity,
    /// Step between plugs used, mm.
    pub step_mm: f64,
    /// Where the uncertainty of the estimate comes from.
    pub budget: Budget,
    /// Doubts.
    pub findings: Vec<Finding>,
}

/// The coarsest step all values are multiples of, mm; `None` of no values. Give it every plug value of the study for a sure answer.
pub fn plug_step(values_mm: &[f64]) -> Option<f64> {
    let mut different = values_mm.to_vec();
    different.sort_by(f64::total_cmp);
    different.dedup_by(|a, b| (*a - *b).abs() < ON_STEP_MM);
    let on = |step: f64| {
        different
            .iter()
            .all(|v| (v - (v / step).round() * step).abs() <= ON_STEP_MM)
    };
    let finest = STEPS_MM.last().copied();
    if different.is_empty() {
        return None;
    }
    STEPS_MM
        .iter()
        .copied()
        .filter(|step| *step <= COARSEST_FROM_FEW_MM || different.len() >= VALUES_FOR_COARSE)
        .find(|step| on(*step))
        .or(finest)
}

/// Largest plug that passed, from the plug readings of one run and stage. `step_mm` is the step between plugs; where it is not
/// known it is taken from the values. `u_plug_mm` is the standard uncertainty of a plug's size, if declared.
///
/// Never fails: no usable reading gives missing quantities with the reason.
pub fn largest_plug(
    readings: &[&CaliperRow],
    step_mm: Option<f64>,
    u_plug_mm: Option<f64>,
) -> PlugReading {
    let values: Vec<f64> = readings
        .iter()
        .map(|row| row.value_mm)
        .filter(|v| v.is_finite() && *v > 0.0)
        .collect();
    let mut findings = Vec::new();
    let declared = step_mm.filter(|step| step.is_finite() && *step > 0.0);
    let guessed = plug_step(&values);
    let (Some(largest), Some(step)) = (
        values.iter().copied().reduce(f64::max),
        declared.or(guessed),
    ) else {
        return PlugReading {
            largest_passing: Quantity::missing("mm", "no plug reading"),
            inscribed_diameter: Quantity::missing("mm", "no plug reading"),
            step_mm: f64::NAN,
            budget: Budget::new(),
            findings,
        };
    };
    if declared.is_none() {
        findings.push(Finding::note(
            "plug-step-from-values",
            format!("the step between plugs is not declared; the values fit {step} mm"),
        ));
    }
    let smallest = values.iter().copied().fold(largest, f64::min);
    if largest - smallest > 2.5 * step {
        findings.push(Finding::doubt(
            "plugs-disagree",
            format!("plugs from {smallest} to {largest} mm are given as the largest that passes"),
        ));
    }
    let mut budget =
        Budget::new().with(Component::rectangular("step to the next plug", step / 2.0));
    if let Some(u) = u_plug_mm.filter(|u| *u > 0.0) {
        budget.push(Component::normal("size of the plug", u));
    }
    let passing = match u_plug_mm.filter(|u| *u > 0.0) {
        Some(u) => Quantity::known(largest, u, "mm", "largest plug that passes"),
        None => Quantity::without_u(
            largest,
            "mm",
            "largest plug that passes",
            "the uncertainty of the plugs is not declared",
        ),
    };
    PlugReading {
        largest_passing: passing,
        inscribed_diameter: budget.quantity(
            largest + step / 2.0,
            "mm",
            format!("middle between the largest plug that passes and the next, step {step} mm"),
        ),
        step_mm: step,
        budget,
        findings,
    }
}
