//! Comparisons between arms.

use super::sample::samples;
use crate::recording::{Comparison, Group, RunResult};
use crate::stats::{Observation, logrank};

const METHOD: &str = "log-rank test of the fracture pressures of all arms at once, runs without fracture right-censored; p from the chi-squared distribution";

/// The log-rank test over the arms: all groups that have a run with a known pressure.
///
/// Empty where there are fewer than two such groups, where nothing fractured, or where the fractures do not tell the groups apart
/// (all others had been stopped below).
pub fn comparisons(runs: &[RunResult], groups: &[Group]) -> Vec<Comparison> {
    let samples = samples(runs);
    let (names, strengths): (Vec<String>, Vec<&[Observation]>) = samples
        .iter()
        .filter(|sample| groups.iter().any(|group| group.name == sample.name))
        .filter(|sample| !sample.strengths.is_empty())
        .map(|sample| (sample.name.clone(), sample.strengths.as_slice()))
        .unzip();
    match logrank(&strengths) {
        Ok(test) if test.chi_squared.is_finite() && test.p.is_finite() => vec![Comparison {
            name: "logrank".to_owned(),
            groups: names,
            chi2: test.chi_squared,
            df: test.dof,
            p: test.p,
            method: METHOD.to_owned(),
        }],
        _ => Vec::new(),
    }
}
