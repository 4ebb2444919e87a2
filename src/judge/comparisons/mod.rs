//! Comparisons between groups, and between states of the same frames.
//!
//! Every p stands by itself: none is corrected for how many there are. Where more than two groups are compared two by two for their strengths,
//! the adjusted p stands beside it.

pub(super) mod inner_valve;
mod paired;
mod seen;
mod strengths;
mod values;

use super::sample::{Sample, samples};
use crate::recording::{Comparison, Group, Interval, RunResult};
use crate::rig::Series;

/// Most groups compared two by two: of more the tables say less than the tests of all at once.
const MOST_IN_PAIRS: usize = 6;

/// How comparisons are made.
#[derive(Clone, Copy)]
struct How<'s> {
    series: &'s Series,
    confidence: f64,
}

/// Everything compared: strengths, shares, values and what else was seen between groups; frames before and after; dilation without and with
/// an inner valve.
///
/// A comparison of two groups without values in one of them is left out; a test that their values do not allow says why.
pub fn comparisons(
    runs: &[RunResult],
    series: &Series,
    groups: &[Group],
    confidence: f64,
) -> Vec<Comparison> {
    let mut samples = samples(runs, series);
    samples.retain(|sample| groups.iter().any(|group| group.name == sample.name));
    let how = How { series, confidence };
    let mut all = between(&samples, how);
    all.extend(strengths::trend(&samples, how));
    for sample in &samples {
        all.extend(paired::before_and_after(sample, how));
    }
    all.extend(inner_valve::compare(runs, how));
    all
}

/// All that can be compared between samples of different frames.
fn between(samples: &[Sample<'_>], how: How<'_>) -> Vec<Comparison> {
    let mut all = strengths::compare(samples);
    all.extend(seen::all_at_once(samples));
    all.extend(values::all_at_once(samples));
    if samples.len() > MOST_IN_PAIRS {
        let names: Vec<&str> = samples.iter().map(|sample| sample.name.as_str()).collect();
        let why = format!(
            "more than {MOST_IN_PAIRS} groups are not compared two by two: name fewer in group_by, or judge with `compare` two studies"
        );
        all.push(untold(
            "pairs",
            "every quantity",
            &names,
            "groups two by two",
            why,
        ));
    }
    for (first, second) in pairs(samples) {
        all.push(strengths::shares(first, second));
        all.extend(values::compare(first, second, how));
        all.extend(seen::compare(first, second, how));
    }
    all
}

/// Every two samples, the earlier first; none of more than [`MOST_IN_PAIRS`].
fn pairs<T>(samples: &[T]) -> Vec<(&T, &T)> {
    if samples.len() > MOST_IN_PAIRS {
        return Vec::new();
    }
    let each = samples.iter().enumerate();
    each.flat_map(|(i, first)| {
        let later = samples.iter().skip(i + 1);
        later.map(move |second| (first, second))
    })
    .collect()
}

/// A comparison with nothing but its words yet.
fn bare(name: &str, quantity: &str, groups: &[&str], method: impl Into<String>) -> Comparison {
    Comparison {
        name: name.to_owned(),
        quantity: quantity.to_owned(),
        groups: groups.iter().map(|group| (*group).to_owned()).collect(),
        chi2: None,
        statistic: None,
        df: None,
        estimate: None,
        p: None,
        p_adjusted: None,
        method: method.into(),
    }
}

/// A test that the data do not allow, with the reason.
fn untold(
    name: &str,
    quantity: &str,
    groups: &[&str],
    what: &str,
    why: impl std::fmt::Display,
) -> Comparison {
    bare(name, quantity, groups, format!("{what}: not told, {why}"))
}

impl Comparison {
    fn p(mut self, p: f64) -> Self {
        self.p = p.is_finite().then_some(p);
        self
    }

    fn chi2(mut self, chi2: f64, dof: usize) -> Self {
        self.chi2 = Some(chi2);
        self.df = Some(dof as f64);
        self
    }

    fn statistic(mut self, statistic: f64) -> Self {
        self.statistic = statistic.is_finite().then_some(statistic);
        self
    }

    fn estimate(mut self, estimate: Interval) -> Self {
        self.estimate = Some(estimate);
        self
    }
}
