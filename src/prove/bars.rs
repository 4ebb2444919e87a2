//! What the detector has to reach on the default mix before its word counts.

use super::Proof;
use super::quantities::{Family, coverage};
use super::rates::{Rates, Share};

/// What a demand is of.
enum Of {
    /// A share of runs, breaks or onsets, with exact limits.
    Share(fn(&Rates) -> Share),
    /// Anything else.
    Value(fn(&Rates) -> Option<f64>),
}

/// A demand: its name, what it is of, and between which values it is met.
type Demand = (&'static str, Of, (f64, f64));

/// Every demand. A missed break falsifies a series and a false one ends it, so both are rarer than the one in twenty at which a series is
/// judged; coverage is 95 % within what a few hundred onsets tell. A new one is one line here.
const DEMANDS: &[Demand] = &[
    (
        "recall of clear breaks",
        Of::Share(|r| r.recall),
        (0.995, 1.0),
    ),
    (
        "recall of clear breaks beside a fault of the recording",
        Of::Share(|r| r.recall_beside),
        (0.95, 1.0),
    ),
    (
        "precision of fractures",
        Of::Share(|r| r.precision),
        (0.995, 1.0),
    ),
    (
        "false fractures in runs without a break",
        Of::Share(|r| r.false_runs),
        (0.0, 0.0025),
    ),
    (
        "mean confidence of fractures less share that are",
        Of::Value(|r| r.overconfident),
        (-0.05, 0.05),
    ),
    ("outcome right", Of::Share(|r| r.outcome), (0.98, 1.0)),
    (
        "error of the onset, median (samples)",
        Of::Value(|r| r.error_samples.map(|(median, _)| median)),
        (0.0, 1.0),
    ),
    (
        "onsets within 3 samples or 5 ms",
        Of::Share(|r| r.in_time),
        (0.95, 1.0),
    ),
    (
        "intervals of the onset that hold it",
        Of::Share(|r| r.inside),
        (0.93, 0.99),
    ),
    (
        "pressures that hold the truth within 2 u",
        Of::Share(|r| r.pressure),
        (0.93, 0.98),
    ),
];

/// A demand and what was reached.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What.
    pub name: String,
    /// Reached; none where no run tells.
    pub reached: Option<f64>,
    /// Exact limits of a share at 95 %.
    pub limits: Option<(f64, f64)>,
    /// Least that is asked for.
    pub least: f64,
    /// Most that is asked for.
    pub most: f64,
    /// Whether limits that reach into what is asked for are enough.
    generous: bool,
}

impl Bar {
    /// Whether it is met; a demand that no run tells of is not. Where an interval is asked for from both sides and few values tell, it is
    /// enough that the exact limits reach into it.
    pub fn is_met(&self) -> bool {
        let within = |share: f64| (self.least..=self.most).contains(&share);
        self.reached.is_some_and(within)
            || self.generous
                && self
                    .limits
                    .is_some_and(|(lower, upper)| lower <= self.most && upper >= self.least)
    }
}

/// Twice a standard uncertainty is to hold the truth of this share of measured quantities: 95 %, within what a thousand runs tell.
const HOLDS: (f64, f64) = (0.93, 0.97);

/// The demand on the quantities of a family.
fn coverage_of(proof: &Proof, family: Family) -> Option<Bar> {
    let row = coverage(&proof.quantities)
        .into_iter()
        .find(|row| row.family == family && row.name.is_empty())?;
    Some(Bar {
        name: format!("{} that hold the truth within 2 u", family.word()),
        reached: row.held.value(),
        limits: row.held.limits(),
        least: HOLDS.0,
        most: HOLDS.1,
        generous: true,
    })
}

/// Every demand with what these runs reach; of quantities only those that were measured.
pub fn bars(proof: &Proof) -> Vec<Bar> {
    let rates = Rates::of(&proof.runs, |_| true);
    let bar = |(name, of, (least, most)): &Demand| {
        let (reached, limits) = match of {
            Of::Share(share) => (share(&rates).value(), share(&rates).limits()),
            Of::Value(value) => (value(&rates), None),
        };
        Bar {
            name: (*name).to_owned(),
            reached,
            limits,
            least: *least,
            most: *most,
            generous: false,
        }
    };
    let families = Family::ALL.into_iter();
    let detector = DEMANDS.iter().map(bar);
    detector
        .chain(families.filter_map(|family| coverage_of(proof, family)))
        .collect()
}
