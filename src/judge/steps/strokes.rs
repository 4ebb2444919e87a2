//! The number of strokes was that of the protocol.

use super::{Claim, Found, Step, in_words, one_of, phases, recorded, within};
use crate::judge::rules::{Asked, Key, Kind};
use crate::recording::{PhaseKind, RunResult};
use crate::uncertain::Quantity;

const AT_LEAST: Key = Key {
    name: "at_least",
    kind: Kind::Count,
    meaning: "fewest strokes",
    needed: false,
};
const AT_MOST: Key = Key {
    name: "at_most",
    kind: Kind::Count,
    meaning: "most strokes",
    needed: false,
};

/// Number of strokes. Turns that follow each other without a hold are one stroke.
pub struct Strokes;

impl Step for Strokes {
    fn name(&self) -> &'static str {
        "strokes"
    }

    fn meaning(&self) -> &'static str {
        "number of strokes; turns without a hold between them are one"
    }

    fn keys(&self) -> &'static [Key] {
        &[AT_LEAST, AT_MOST]
    }

    fn consistent(&self, asked: &Asked) -> Result<(), (String, String)> {
        one_of(
            asked,
            &[AT_LEAST.name, AT_MOST.name],
            "write at_least, at_most or both",
        )
    }

    fn claims(&self, asked: &Asked) -> Vec<Claim> {
        vec![Claim::between(
            "number of strokes",
            within(asked, AT_LEAST.name, AT_MOST.name),
        )]
    }

    fn asks(&self, asked: &Asked) -> String {
        format!("{} strokes", in_words(asked, AT_LEAST.name, AT_MOST.name))
    }

    fn look(&self, asked: &Asked, run: &RunResult) -> Result<Found, String> {
        recorded(run)?;
        let (least, most) = within(asked, AT_LEAST.name, AT_MOST.name);
        let count = phases(run, PhaseKind::Stroke).count();
        let last = phases(run, PhaseKind::Stroke).last();
        Ok(Found {
            quantity: Quantity::without_u(
                count as f64,
                "1",
                "phases called a stroke",
                "a count; how sure the phases are is not in it",
            ),
            least,
            most,
            when_s: last.map(|stroke| stroke.t_end_s),
            reason: "strokes of the whole recording".to_owned(),
        })
    }
}
