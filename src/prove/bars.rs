//! What the detector has to reach on the default mix before its word counts.

use super::compare::Proven;
use super::rates::Rates;

/// A demand and what was reached.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What.
    pub name: &'static str,
    /// Reached; none where no run tells.
    pub reached: Option<f64>,
    /// Least that is asked for.
    pub least: f64,
    /// Most that is asked for.
    pub most: f64,
}

impl Bar {
    /// Whether it is met; a demand that no run tells of is not.
    pub fn is_met(&self) -> bool {
        self.reached
            .is_some_and(|reached| (self.least..=self.most).contains(&reached))
    }
}

/// Every demand.
pub fn bars(runs: &[Proven]) -> Vec<Bar> {
    let rates = Rates::of(runs, |_| true);
    let bar = |name, reached, least, most| Bar {
        name,
        reached,
        least,
        most,
    };
    vec![
        bar("recall of clear breaks", rates.recall.value(), 0.995, 1.0),
        bar(
            "recall of clear breaks beside a fault of the recording",
            rates.recall_beside.value(),
            0.95,
            1.0,
        ),
        bar(
            "precision of fractures",
            rates.precision.value(),
            0.995,
            1.0,
        ),
        bar(
            "false fractures in runs without a break",
            rates.false_runs.value(),
            0.0,
            0.0025,
        ),
        bar("outcome right", rates.outcome.value(), 0.98, 1.0),
        bar(
            "error of the onset, median (samples)",
            rates.error_samples.map(|(median, _)| median),
            0.0,
            1.0,
        ),
        bar(
            "onsets within 3 samples or 5 ms",
            rates.in_time.value(),
            0.95,
            1.0,
        ),
        bar(
            "intervals of the onset that hold it",
            rates.inside.value(),
            0.93,
            0.99,
        ),
        bar(
            "pressures that hold the truth within 2 u",
            rates.pressure.value(),
            0.93,
            0.98,
        ),
    ]
}
