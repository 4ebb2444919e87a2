//! Trials of the pressures of events, and the word on where trials and propagation differ.

use crate::recording::{ByTrials, Contribution, DIFFER_SHARE, Finding, RunResult};
use crate::uncertain::{Budget, Component, Distribution, Input, Trials, monte_carlo};

/// What is fitted to the points of the load curve.
const FROM_POINTS: [&str; 9] = [
    "frame.compliance",
    "frame.yield_load",
    "frame.yield_diameter",
    "frame.offset_yield_load",
    "frame.offset_yield_diameter",
    "frame.hardening",
    "frame.hardening_ratio",
    "frame.work",
    "frame.energy_stored",
];

/// Adds the trials of every pressure that has a budget, and a note where trials and propagation differ.
pub(super) fn add(result: &mut RunResult, trials: Trials) {
    let mut said = Vec::new();
    for (k, event) in result.events.iter().enumerate() {
        for by in &event.pressures {
            let Some((value, _)) = by.pressure.pair() else {
                continue;
            };
            let name = format!("events[{k}].pressures.{}", by.definition.word());
            let input = Input {
                value,
                budget: budget(&by.budget),
            };
            let label = format!("{}: {name}", result.run_id);
            let found = monte_carlo(&|x| x[0], &[input], &[], &label, trials);
            said.extend(found.map(|found| ByTrials::new(name, &by.pressure, found)));
        }
    }
    result.monte_carlo.extend(said);
    let differ: Vec<&str> = result
        .monte_carlo
        .iter()
        .filter(|by| by.differs)
        .map(|by| by.quantity.as_str())
        .collect();
    if !differ.is_empty() {
        let mut effect = "the propagated uncertainty stands in the results; the intervals by trials stand beside it".to_owned();
        if differ.iter().any(|name| name.contains("outline")) {
            effect.push_str(
                "; blocks of an outline drawn anew are known to say up to two fifths less",
            );
        }
        if differ.iter().any(|name| FROM_POINTS.contains(name)) {
            effect.push_str(
                "; what follows from the points of the load curve scatters by more than its inputs tell (a curve is no line), few points widen it, and trials draw the inputs only",
            );
        }
        result.findings.push(
            Finding::note(
                "trials-differ",
                format!(
                    "trials and propagation differ by more than {:.0} % in the standard uncertainty of {}",
                    100.0 * DIFFER_SHARE,
                    differ.join(", ")
                ),
            )
            .effect(effect)
            .run(&result.run_id),
        );
    }
}

fn budget(parts: &[Contribution]) -> Budget {
    let mut budget = Budget::new();
    for part in parts {
        if let Some(u) = part.u.filter(|u| *u > 0.0) {
            budget.push(match part.distribution {
                Distribution::Rectangular => {
                    Component::rectangular(part.source.clone(), u * 3.0_f64.sqrt())
                }
                _ => Component::normal(part.source.clone(), u),
            });
        }
    }
    budget
}
