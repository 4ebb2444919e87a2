//! The frames keep enough of the dilation.

use super::mean_limit::{Measured, asked_for, mean_limit};
use super::{Asked, CONFIDENCE, Judgement, Key, Kind, Rule};
use crate::judge::quantity::Numbers;
use crate::judge::sample::Sample;

const AT_LEAST: Key = Key {
    name: "at_least",
    kind: Kind::Share,
    meaning: "mean set over the diameter before, as a ratio (5 % is 0.05)",
    needed: true,
};

/// The mean set, over the diameter before, reaches `at_least`.
pub struct SetAtLeast;

impl Rule for SetAtLeast {
    fn name(&self) -> &'static str {
        "set_at_least"
    }

    fn asks(&self) -> &'static str {
        "the mean set (after - before) / before is at least `at_least`, with `confidence`"
    }

    fn keys(&self) -> &'static [Key] {
        &[AT_LEAST, CONFIDENCE]
    }

    fn source(&self) -> &'static str {
        "one-sided limit of a mean: Student 1908, Biometrika 6:1; values independent and nearly normal"
    }

    fn judge(&self, asked: &Asked, sample: &Sample<'_>) -> Judgement {
        let numbers =
            Numbers::of_results(sample, "1", |run| Some(&run.diameters.as_ref()?.set_ratio));
        let measured = Measured {
            name: "set ratio",
            numbers,
            n: sample.runs.len(),
            print: |x, _| format!("{x:.4}"),
        };
        mean_limit(asked, &asked_for(asked, AT_LEAST.name), &measured)
    }
}
