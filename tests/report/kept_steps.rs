//! Steps of a protocol as a run kept them, or did not.

use crate::made_up::q;
use hooptrace::recording::{StepResult, StepVerdict};

/// Steps of a run: kept, deviated and not known in turn.
pub fn steps_kept(n: usize) -> Vec<StepResult> {
    let verdict = [
        StepVerdict::Kept,
        StepVerdict::Deviated,
        StepVerdict::NotKnown,
    ][n % 3];
    let deviation = (verdict == StepVerdict::Deviated).then(|| q(12.0, 1.0, "kPa"));
    vec![StepResult {
        step: "maximum".to_owned(),
        number: 1,
        asked: "highest pressure at most 12 atm (1215.90 kPa)".to_owned(),
        found: q(1227.9, 6.0, "kPa"),
        deviation,
        when_s: Some(41.5),
        verdict,
        reason: "made up".to_owned(),
    }]
}
