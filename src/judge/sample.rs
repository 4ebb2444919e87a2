//! The frame runs of an arm as a sample of strengths: which count, and what each says.

use crate::recording::{EventKind, Outcome, RunKind, RunResult};
use crate::stats::Observation;
use std::collections::BTreeMap;

/// Name of the only group where no run has an arm.
const ALL: &str = "all";
/// Name of the group of runs without an arm where others have one.
const NO_ARM: &str = "no arm";

/// The frame runs of one arm that count: all but those that cannot be used.
#[derive(Debug, Clone)]
pub struct Sample<'a> {
    /// Name of the arm.
    pub name: String,
    /// Every run that counts, in the order of the study.
    pub runs: Vec<&'a RunResult>,
    /// Strengths, kPa: the pressure of the first fracture, or right-censored at the highest pressure of a run without fracture, and at the
    /// limit of the channel where it broke beyond.
    pub strengths: Vec<Observation>,
    /// Fractured runs whose fracture has no pressure: they count as fractured, but have no strength.
    pub fractures_without_pressure: Vec<&'a RunResult>,
    /// Fractured runs whose channel was at its limit: their strength is right-censored there.
    pub fractures_beyond_limit: Vec<&'a RunResult>,
    /// Runs without fracture whose highest pressure is not known: they count as not fractured, but say nothing of strength.
    pub unbroken_without_pressure: Vec<&'a RunResult>,
}

impl<'a> Sample<'a> {
    fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            runs: Vec::new(),
            strengths: Vec::new(),
            fractures_without_pressure: Vec::new(),
            fractures_beyond_limit: Vec::new(),
            unbroken_without_pressure: Vec::new(),
        }
    }

    fn add(&mut self, run: &'a RunResult) {
        self.runs.push(run);
        if run.outcome == Outcome::Fractured {
            match fracture_pressure(run) {
                Some(strength) => {
                    self.strengths.push(strength);
                    if strength.censored {
                        self.fractures_beyond_limit.push(run);
                    }
                }
                None => self.fractures_without_pressure.push(run),
            }
        } else {
            match run.highest_pressure.value.filter(|p| p.is_finite()) {
                Some(pressure) => self.strengths.push(Observation::censored(pressure)),
                None => self.unbroken_without_pressure.push(run),
            }
        }
    }

    /// The sample of those of its runs of which this is true.
    pub(super) fn only(&self, keep: impl Fn(&RunResult) -> bool) -> Self {
        let mut sample = Self::new(&self.name);
        for run in self.runs.iter().filter(|run| keep(run)) {
            sample.add(run);
        }
        sample
    }

    /// Number of fractured runs, with or without a fracture pressure.
    pub fn fractured(&self) -> usize {
        self.count(|run| run.outcome == Outcome::Fractured)
    }

    /// Number of runs of which this is true.
    pub fn count(&self, is: impl Fn(&RunResult) -> bool) -> usize {
        self.runs.iter().filter(|run| is(run)).count()
    }

    /// Fracture pressures, kPa.
    pub fn fracture_pressures(&self) -> Vec<f64> {
        self.strengths
            .iter()
            .filter(|o| !o.censored)
            .map(|o| o.value)
            .collect()
    }
}

/// The samples of a study by arm, in the order of their names.
///
/// Frame runs count unless they are invalid. Runs without an arm form the group `all` where no run has one, else `no arm`.
pub fn samples(runs: &[RunResult]) -> Vec<Sample<'_>> {
    let counted = |run: &&RunResult| {
        run.kind == RunKind::Frame && !matches!(run.outcome, Outcome::Invalid | Outcome::Reference)
    };
    let rest = if runs.iter().filter(counted).any(|run| arm(run).is_some()) {
        NO_ARM
    } else {
        ALL
    };
    let mut samples: BTreeMap<&str, Sample<'_>> = BTreeMap::new();
    for run in runs.iter().filter(counted) {
        let name = arm(run).unwrap_or(rest);
        samples
            .entry(name)
            .or_insert_with(|| Sample::new(name))
            .add(run);
    }
    samples.into_values().collect()
}

fn arm(run: &RunResult) -> Option<&str> {
    run.arm.as_deref().map(str::trim).filter(|a| !a.is_empty())
}

/// Gauge pressure at the onset of the first fracture, kPa; right-censored where the channel was at its limit, so that only a lower bound, without
/// an uncertainty, is known.
fn fracture_pressure(run: &RunResult) -> Option<Observation> {
    run.events
        .iter()
        .filter(|event| event.kind == EventKind::Fracture)
        .min_by(|a, b| {
            let at = |t: Option<f64>| t.unwrap_or(f64::INFINITY);
            at(a.t_s).total_cmp(&at(b.t_s))
        })
        .filter(|event| event.t_s.is_some())
        .and_then(|event| {
            let pressure = event.pressure.value.filter(|p| p.is_finite())?;
            Some(match event.pressure.u {
                Some(_) => Observation::failure(pressure),
                None => Observation::censored(pressure),
            })
        })
}
