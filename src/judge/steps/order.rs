//! The frame was dilated before or after an inner valve was implanted.

use super::{Claim, Found, Step};
use crate::judge::rules::{Asked, Key, Kind};
use crate::recording::RunResult;
use crate::uncertain::Quantity;

const INNER_VALVE: Key = Key {
    name: "inner_valve",
    kind: Kind::Word(&[BEFORE, AFTER]),
    meaning: "before: it is in the ring when the frame is dilated; after: it is not yet",
    needed: true,
};
const BEFORE: &str = "before";
const AFTER: &str = "after";

/// Whether an inner valve was in the ring during the dilation, by the column `inner_valve` of the runs table.
pub struct Order;

impl Step for Order {
    fn name(&self) -> &'static str {
        "order"
    }

    fn meaning(&self) -> &'static str {
        "inner valve implanted before or after the dilation"
    }

    fn keys(&self) -> &'static [Key] {
        &[INNER_VALVE]
    }

    fn consistent(&self, _: &Asked) -> Result<(), (String, String)> {
        Ok(())
    }

    fn claims(&self, asked: &Asked) -> Vec<Claim> {
        let before = asked.texts.get(INNER_VALVE.name);
        let count = if before.is_some_and(|word| word == BEFORE) {
            1.0
        } else {
            0.0
        };
        vec![Claim::between(
            "number of inner valves in the ring during the dilation",
            (count, count),
        )]
    }

    fn asks(&self, asked: &Asked) -> String {
        format!(
            "inner valve implanted {} the dilation",
            asked.written(INNER_VALVE.name)
        )
    }

    fn look(&self, asked: &Asked, run: &RunResult) -> Result<Found, String> {
        let before = asked
            .texts
            .get(INNER_VALVE.name)
            .is_some_and(|word| word == BEFORE);
        let there = match &run.inner_valve {
            Some(valve) => format!("{valve} was in the ring"),
            None if run.setup.inner_valve_told => {
                "the column inner_valve is empty, which says that none was in the ring".to_owned()
            }
            None => return Err("the runs table has no column inner_valve".to_owned()),
        };
        let wanted = if before { 1.0 } else { 0.0 };
        Ok(Found {
            quantity: Quantity::without_u(
                if run.inner_valve.is_some() { 1.0 } else { 0.0 },
                "1",
                "inner valves in the ring during the dilation",
                "a count",
            ),
            least: wanted,
            most: wanted,
            when_s: None,
            reason: there,
        })
    }
}
