//! The frames end up wide enough.

use super::mean_limit::{Measured, asked_for, mean_limit};
use super::{Asked, CONFIDENCE, Judgement, Key, Kind, Rule};
use crate::judge::quantity::Numbers;
use crate::judge::sample::Sample;
use crate::units::Dimension;

const AT_LEAST: Key = Key {
    name: "at_least",
    kind: Kind::Measured(Dimension::Length),
    meaning: "mean diameter after the run",
    needed: true,
};

/// The mean diameter after the run reaches `at_least_<unit>`.
pub struct DiameterAfterAtLeast;

impl Rule for DiameterAfterAtLeast {
    fn name(&self) -> &'static str {
        "diameter_after_at_least"
    }

    fn asks(&self) -> &'static str {
        "the mean diameter after the run is at least `at_least_<unit>`, with `confidence`"
    }

    fn keys(&self) -> &'static [Key] {
        &[AT_LEAST, CONFIDENCE]
    }

    fn source(&self) -> &'static str {
        "one-sided limit of a mean: Student 1908, Biometrika 6:1; values independent and nearly normal"
    }

    fn judge(&self, asked: &Asked, sample: &Sample<'_>) -> Judgement {
        let numbers = Numbers::of_results(sample, "mm", |run| Some(&run.diameters.as_ref()?.after));
        let measured = Measured {
            name: "diameter after",
            numbers,
            n: sample.runs.len(),
            print: |x, _| format!("{x:.3} mm"),
        };
        mean_limit(asked, &asked_for(asked, AT_LEAST.name), &measured)
    }
}
