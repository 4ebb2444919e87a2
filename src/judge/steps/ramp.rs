//! The pressure rose neither too fast nor too slowly.

use super::{Claim, Found, Step, disturbed, in_words, one_of, phases, recorded, within};
use crate::judge::rules::{Asked, Key, Kind};
use crate::recording::{PhaseKind, RunResult};
use crate::uncertain::Quantity;

const AT_LEAST: Key = Key {
    name: "at_least",
    kind: Kind::Rate,
    meaning: "slowest rise of pressure in a stroke",
    needed: false,
};
const AT_MOST: Key = Key {
    name: "at_most",
    kind: Kind::Rate,
    meaning: "fastest rise of pressure in a stroke",
    needed: false,
};

/// Mean rise of pressure over each stroke. Strokes into which an event falls are left out: what the pressure did there was not the hand's doing.
pub struct Ramp;

impl Step for Ramp {
    fn name(&self) -> &'static str {
        "ramp"
    }

    fn meaning(&self) -> &'static str {
        "mean rate of pressure rise of every stroke without an event"
    }

    fn keys(&self) -> &'static [Key] {
        &[AT_LEAST, AT_MOST]
    }

    fn consistent(&self, asked: &Asked) -> Result<(), (String, String)> {
        let keys = [AT_LEAST.name, AT_MOST.name];
        one_of(
            asked,
            &keys,
            "write at_least_kpa_per_s, at_most_kpa_per_s or both",
        )
    }

    fn claims(&self, asked: &Asked) -> Vec<Claim> {
        vec![Claim::between(
            "rise of pressure in a stroke, kPa/s",
            within(asked, AT_LEAST.name, AT_MOST.name),
        )]
    }

    fn asks(&self, asked: &Asked) -> String {
        format!("rise {}", in_words(asked, AT_LEAST.name, AT_MOST.name))
    }

    fn look(&self, asked: &Asked, run: &RunResult) -> Result<Found, String> {
        recorded(run)?;
        let (least, most) = within(asked, AT_LEAST.name, AT_MOST.name);
        let strokes = phases(run, PhaseKind::Stroke).filter(|stroke| !disturbed(run, stroke));
        let rates = strokes.filter_map(|stroke| {
            let ends = stroke.ends;
            let rise = ends.pressure_end_kpa? - ends.pressure_start_kpa?;
            let lasted = stroke.t_end_s - stroke.t_start_s;
            let method = "rise over duration of the stroke";
            // Of a difference the common part of the error drops out; both ends with the whole of it is an upper bound.
            let quantity = match ends.u_pressure_kpa {
                Some(u) => {
                    Quantity::known(rise / lasted, 2f64.sqrt() * u / lasted, "kPa/s", method)
                }
                None => Quantity::without_u(
                    rise / lasted,
                    "kPa/s",
                    method,
                    "the uncertainty of the channel is not known",
                ),
            };
            Some(Found {
                quantity,
                least,
                most,
                when_s: Some(stroke.t_start_s),
                reason: format!(
                    "stroke from {:.1} to {:.1} s",
                    stroke.t_start_s, stroke.t_end_s
                ),
            })
        });
        Found::tightest(rates.filter(|found| found.quantity.value.is_some()))
            .ok_or_else(|| "no stroke without an event has a pressure at both ends".to_owned())
    }
}
