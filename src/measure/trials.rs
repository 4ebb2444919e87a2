//! Diameters, and what follows from them, by trials beside propagation.

use super::caliper::{BIAS_STAYS, CaliperMean};
use super::geometry::circle_area;
use super::scatter::HAND_BIAS;
use crate::recording::{Areas, ByTrials, Diameters};
use crate::uncertain::{Common, Input, Quantity, Trials, monte_carlo};
use std::collections::BTreeSet;

/// The diameter that stands for a stage, and the caliper mean it is, if it is one.
pub(super) struct Used<'a> {
    pub quantity: Quantity,
    /// How it was had; empty where nobody measured it.
    pub method: &'static str,
    pub caliper: Option<&'a CaliperMean>,
}

/// Where a quantity by propagation is found.
type Propagated = for<'a> fn(&'a Diameters, &'a Areas) -> &'a Quantity;

/// A quantity that follows from diameters.
struct Follows {
    /// Where it stands in a run.
    name: &'static str,
    /// The diameters it needs: 0 before, 1 loaded, 2 after.
    needs: &'static [usize],
    /// How it follows from them.
    formula: fn(&[f64]) -> f64,
    /// The same by propagation.
    propagated: Propagated,
}

const fn follows(
    name: &'static str,
    needs: &'static [usize],
    formula: fn(&[f64]) -> f64,
    propagated: Propagated,
) -> Follows {
    Follows {
        name,
        needs,
        formula,
        propagated,
    }
}

/// Everything computed from diameters. A new one is one line here.
#[rustfmt::skip]
const FOLLOWS: &[Follows] = &[
    follows("diameters.before", &[0], |d| d[0], |d, _| &d.before),
    follows("diameters.loaded", &[1], |d| d[1], |d, _| &d.loaded),
    follows("diameters.after", &[2], |d| d[2], |d, _| &d.after),
    follows("diameters.set", &[0, 2], |d| d[2] - d[0], |d, _| &d.set),
    follows("diameters.set_ratio", &[0, 2], |d| d[2] / d[0] - 1.0, |d, _| &d.set_ratio),
    follows("diameters.recoil", &[1, 2], |d| 1.0 - d[2] / d[1], |d, _| &d.recoil),
    follows("diameters.recovery", &[0, 1, 2], |d| (d[1] - d[2]) / (d[1] - d[0]), |d, _| &d.recovery),
    follows("diameters.expansion", &[0, 1], |d| d[1] / d[0] - 1.0, |d, _| &d.expansion),
    follows("areas.before", &[0], |d| circle_area(d[0]), |_, a| &a.before),
    follows("areas.loaded", &[1], |d| circle_area(d[1]), |_, a| &a.loaded),
    follows("areas.after", &[2], |d| circle_area(d[2]), |_, a| &a.after),
    follows("areas.gain", &[0, 2], |d| (d[2] / d[0]).powi(2) - 1.0, |_, a| &a.gain),
];

/// Trials of everything that the diameters before, loaded and after give, beside the same by propagation. What has no uncertainty has no
/// trials.
pub(super) fn diameters(
    stages: &[Used<'_>; 3],
    (diameters, areas): (&Diameters, &Areas),
    run_id: &str,
    trials: Trials,
) -> Vec<ByTrials> {
    let inputs: Vec<Input> = stages.iter().map(input).collect();
    let common = common(stages);
    let known = |stage: &usize| {
        stages
            .get(*stage)
            .is_some_and(|used| used.quantity.pair().is_some())
    };
    FOLLOWS
        .iter()
        .filter(|one| one.needs.iter().all(known))
        .filter_map(|one| {
            let propagated = (one.propagated)(diameters, areas);
            propagated.pair()?;
            let label = format!("{run_id}: {}", one.name);
            let said = monte_carlo(&one.formula, &inputs, &common, &label, trials)?;
            Some(ByTrials::new(one.name, propagated, said))
        })
        .collect()
}

/// A diameter with its components, less what named hands bring into every stage; 0 where nobody measured it, and then nothing uses it.
fn input(used: &Used<'_>) -> Input {
    let (value, u) = used.quantity.pair().unwrap_or((0.0, 0.0));
    match used.caliper {
        Some(mean) if !mean.hands.is_empty() => {
            let mut budget = mean.budget.clone();
            for component in &mut budget.components {
                if component.name == HAND_BIAS {
                    component.sensitivity *= (1.0 - BIAS_STAYS).sqrt();
                }
            }
            Input { value, budget }
        }
        Some(mean) => Input {
            value,
            budget: mean.budget.clone(),
        },
        None => Input::normal(value, u),
    }
}

/// What stays of the bias of every named hand, in each diameter by its share of the mean.
fn common(stages: &[Used<'_>; 3]) -> Vec<Common> {
    let calipers = || stages.iter().filter_map(|used| used.caliper);
    let hands: BTreeSet<&String> = calipers().flat_map(|mean| mean.hands.keys()).collect();
    let u = calipers()
        .filter_map(|mean| mean.bias_u_mm)
        .fold(0.0, f64::max);
    let share = |used: &Used<'_>, hand: &String| {
        let mean = used.caliper?;
        mean.hands.get(hand).copied()
    };
    hands
        .into_iter()
        .map(|hand| Common {
            u: u * BIAS_STAYS.sqrt(),
            factors: stages
                .iter()
                .map(|used| share(used, hand).unwrap_or(0.0))
                .collect(),
        })
        .collect()
}
