//! Diameters, and what follows from them, by trials beside propagation.

use super::caliper::{BIAS_STAYS, CaliperMean};
use super::geometry::circle_area;
use super::scatter::HAND_BIAS;
use crate::recording::ByTrials;
use crate::uncertain::{Common, Input, Quantity, Trials, monte_carlo};
use std::collections::BTreeSet;

/// A diameter used: its quantity, and the caliper mean it is, if it is one.
pub(super) struct Used<'a> {
    pub quantity: &'a Quantity,
    pub caliper: Option<&'a CaliperMean>,
}

/// A quantity that follows from diameters: name, unit, the diameters it needs (0 before, 1 loaded, 2 after), and how.
type Follows = (
    &'static str,
    &'static str,
    &'static [usize],
    fn(&[f64]) -> f64,
);

/// Everything computed from diameters. A new one is one line here.
const FOLLOWS: &[Follows] = &[
    ("diameters.before", "mm", &[0], |d| d[0]),
    ("diameters.loaded", "mm", &[1], |d| d[1]),
    ("diameters.after", "mm", &[2], |d| d[2]),
    ("diameters.set", "mm", &[0, 2], |d| d[2] - d[0]),
    ("diameters.set_ratio", "1", &[0, 2], |d| d[2] / d[0] - 1.0),
    ("diameters.recoil", "1", &[1, 2], |d| 1.0 - d[2] / d[1]),
    ("diameters.recovery", "1", &[0, 1, 2], |d| {
        (d[1] - d[2]) / (d[1] - d[0])
    }),
    ("diameters.expansion", "1", &[0, 1], |d| d[1] / d[0] - 1.0),
    ("areas.before", "mm2", &[0], |d| circle_area(d[0])),
    ("areas.loaded", "mm2", &[1], |d| circle_area(d[1])),
    ("areas.after", "mm2", &[2], |d| circle_area(d[2])),
    ("areas.gain", "1", &[0, 2], |d| (d[2] / d[0]).powi(2) - 1.0),
];

/// Trials of everything that the diameters before, loaded and after give; `propagated` finds the same by propagation. What has no
/// uncertainty has no trials.
pub(super) fn diameters(
    stages: &[Used<'_>; 3],
    propagated: &dyn Fn(&str) -> Option<Quantity>,
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
        .filter(|(_, _, needs, _)| needs.iter().all(known))
        .filter_map(|(name, unit, _, follows)| {
            let by_propagation = propagated(name)?;
            by_propagation.pair()?;
            let label = format!("{run_id}: {name}");
            let said = monte_carlo(follows, &inputs, &common, &label, trials)?;
            Some(ByTrials::new(*name, *unit, &by_propagation, said))
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
