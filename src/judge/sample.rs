//! The frame runs of a group as a sample of strengths: which count, and what each says.

use crate::recording::{Event, Outcome, PressureDefinition, RunKind, RunResult};
use crate::rig::Series;
use crate::stats::{IntervalObservation, Observation};
use crate::uncertain::Quantity;
use std::collections::BTreeMap;

/// The frame runs of one group that count: all but those that cannot be used.
#[derive(Debug, Clone)]
pub struct Sample<'a> {
    /// Name of the group.
    pub name: String,
    /// What is called the fracture pressure.
    pub definition: PressureDefinition,
    /// Every run that counts, in the order of the study.
    pub runs: Vec<&'a RunResult>,
    /// Strengths, kPa: the pressure of the first fracture, or right-censored at the highest pressure of a run without fracture, and at the
    /// limit of the channel where it broke beyond. What is known by a step only stands at its upper end.
    pub strengths: Vec<Observation>,
    /// The same with steps as steps, and with those fractures that have no pressure left-censored at the highest pressure of their run.
    pub ranges: Vec<IntervalObservation>,
    /// Fractured runs whose fracture has no pressure: they count as fractured, but have no strength of their own.
    pub fractures_without_pressure: Vec<&'a RunResult>,
    /// Fractured runs whose channel was at its limit: their strength is right-censored there.
    pub fractures_beyond_limit: Vec<&'a RunResult>,
    /// Runs without fracture whose highest pressure is not known: they count as not fractured, but say nothing of strength.
    pub unbroken_without_pressure: Vec<&'a RunResult>,
}

impl<'a> Sample<'a> {
    /// The runs as a sample of that name.
    pub(super) fn new(
        name: &str,
        definition: PressureDefinition,
        runs: impl IntoIterator<Item = &'a RunResult>,
    ) -> Self {
        let mut sample = Self {
            name: name.to_owned(),
            definition,
            runs: Vec::new(),
            strengths: Vec::new(),
            ranges: Vec::new(),
            fractures_without_pressure: Vec::new(),
            fractures_beyond_limit: Vec::new(),
            unbroken_without_pressure: Vec::new(),
        };
        for run in runs {
            sample.add(run);
        }
        sample
    }

    fn add(&mut self, run: &'a RunResult) {
        self.runs.push(run);
        let highest = run.highest_pressure.value.filter(|p| p.is_finite());
        if run.outcome != Outcome::Fractured {
            match highest {
                Some(pressure) => self.push(IntervalObservation::censored(pressure)),
                None => self.unbroken_without_pressure.push(run),
            }
        } else if let Some(range) = fracture_pressure(run, self.definition) {
            if range.up_to == f64::INFINITY {
                self.fractures_beyond_limit.push(run);
            }
            self.push(range);
        } else {
            self.fractures_without_pressure.push(run);
            // A fracture that the eye alone saw happened at or below the highest pressure. One whose pressure is known by another definition is
            // pooled with none.
            let below = |highest| IntervalObservation::between(f64::NEG_INFINITY, highest);
            if !run.first_fracture().is_some_and(has_a_pressure) {
                self.ranges.extend(highest.map(below));
            }
        }
    }

    fn push(&mut self, range: IntervalObservation) {
        self.strengths.push(if range.up_to == f64::INFINITY {
            Observation::censored(range.above)
        } else {
            Observation::failure(range.up_to)
        });
        self.ranges.push(range);
    }

    /// The sample of those of its runs of which this is true.
    pub(super) fn only(&self, keep: impl Fn(&RunResult) -> bool) -> Self {
        let kept = self.runs.iter().copied().filter(|run| keep(run));
        Self::new(&self.name, self.definition, kept)
    }

    /// Number of fractured runs, with or without a fracture pressure.
    pub fn fractured(&self) -> usize {
        self.count(|run| run.outcome == Outcome::Fractured)
    }

    /// Number of runs of which this is true.
    pub fn count(&self, is: impl Fn(&RunResult) -> bool) -> usize {
        self.runs.iter().filter(|run| is(run)).count()
    }

    /// Fracture pressures, kPa; those known by a step at its upper end.
    pub fn fracture_pressures(&self) -> Vec<f64> {
        self.strengths
            .iter()
            .filter(|o| !o.censored)
            .map(|o| o.value)
            .collect()
    }

    /// True where some fracture pressure is known by its step only.
    pub fn by_step(&self) -> bool {
        self.ranges.iter().any(IntervalObservation::is_step)
    }

    /// Frames used in more than one run, with the runs.
    pub(super) fn frames_again(&self) -> Vec<(&'a str, Vec<&'a str>)> {
        let mut by_frame: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for run in &self.runs {
            if let Some(frame) = run.frame_id.as_deref() {
                by_frame.entry(frame).or_default().push(&run.run_id);
            }
        }
        by_frame.retain(|_, runs| runs.len() > 1);
        by_frame.into_iter().collect()
    }
}

/// Whether the pressure of a break is known by any definition.
fn has_a_pressure(event: &Event) -> bool {
    let all = event.pressures.iter().map(|by| &by.pressure);
    let known = |pressure: &Quantity| pressure.value.is_some_and(f64::is_finite);
    all.chain([&event.pressure]).any(known)
}

/// True for the frame runs that count.
fn counts(run: &RunResult) -> bool {
    run.kind == RunKind::Frame && !matches!(run.outcome, Outcome::Invalid | Outcome::Reference)
}

/// The frame runs that count, in the order of the study.
pub(super) fn counted(runs: &[RunResult]) -> Vec<&RunResult> {
    runs.iter().filter(|run| counts(run)).collect()
}

/// The samples of a study by its groups, in the order of their names.
///
/// Frame runs count unless they are invalid. Runs without what the others are grouped by form a group of their own (`no arm`), and all runs
/// one group `all` where none has it.
pub fn samples<'a>(runs: &'a [RunResult], series: &Series) -> Vec<Sample<'a>> {
    let counted = counted(runs);
    let names = series.group_by.names(&counted);
    let mut members: BTreeMap<String, Vec<&RunResult>> = BTreeMap::new();
    for (run, name) in counted.into_iter().zip(names) {
        members.entry(name).or_default().push(run);
    }
    members
        .into_iter()
        .map(|(name, runs)| Sample::new(&name, series.definition, runs))
        .collect()
}

/// Gauge pressure of the first fracture by a definition, kPa; right-censored where the channel was at its limit, so that only a lower bound,
/// without an uncertainty, is known.
fn fracture_pressure(
    run: &RunResult,
    definition: PressureDefinition,
) -> Option<IntervalObservation> {
    let event = run.first_fracture()?;
    let dial = definition == PressureDefinition::Dial;
    // A dial is read also where the trace shows nothing.
    if !dial && event.t_s.is_none() {
        return None;
    }
    let (pressure, at_most) = run.fracture_pressure(definition)?;
    let value = pressure.value.filter(|p| p.is_finite())?;
    if let Some(at_most) = at_most {
        let at_most = at_most.value.filter(|p| p.is_finite() && *p >= value)?;
        return Some(IntervalObservation::between(value, at_most));
    }
    // Dials of unknown accuracy have no uncertainty either.
    Some(if pressure.u.is_some() || dial {
        IntervalObservation::failure(value)
    } else {
        IntervalObservation::censored(value)
    })
}
