//! Every hold lasted, and the pressure stayed.

use super::{Found, Step, disturbed, one_of, phases, recorded};
use crate::judge::rules::{Asked, Key, Kind};
use crate::judge::words::percent;
use crate::recording::{Phase, PhaseKind, RunResult};
use crate::uncertain::Quantity;
use crate::units::Dimension;

const AT_LEAST: Key = Key {
    name: "at_least",
    kind: Kind::Measured(Dimension::Time),
    meaning: "shortest hold",
    needed: false,
};
const LOSS: Key = Key {
    name: "loss_at_most",
    kind: Kind::Share,
    meaning: "largest loss of pressure in a hold, as a share of the pressure it began with (5 % is 0.05)",
    needed: false,
};

/// Duration of a phase: either end is placed by the motion of the hand, about a tenth of a second (the same reason as that of the shortest
/// motion that counts).
const U_DURATION_S: f64 = 0.1;

/// Duration and loss of pressure of every hold into which no event falls.
pub struct Holds;

impl Step for Holds {
    fn name(&self) -> &'static str {
        "holds"
    }

    fn meaning(&self) -> &'static str {
        "duration, or loss of pressure, of every hold without an event"
    }

    fn keys(&self) -> &'static [Key] {
        &[LOSS, AT_LEAST]
    }

    fn consistent(&self, asked: &Asked) -> Result<(), (String, String)> {
        let help = "write at_least_s or loss_at_most; for both, write two steps";
        one_of(asked, &[AT_LEAST.name, LOSS.name], help)?;
        if asked.given(AT_LEAST.name).is_some() && asked.given(LOSS.name).is_some() {
            return Err(("has both a duration and a loss".to_owned(), help.to_owned()));
        }
        Ok(())
    }

    fn asks(&self, asked: &Asked) -> String {
        match asked.given(LOSS.name) {
            Some(loss) => format!("every hold loses at most {} of its pressure", percent(loss)),
            None => format!("every hold lasts at least {}", asked.written(AT_LEAST.name)),
        }
    }

    fn look(&self, asked: &Asked, run: &RunResult) -> Result<Found, String> {
        recorded(run)?;
        let all = phases(run, PhaseKind::Hold).count();
        let holds = phases(run, PhaseKind::Hold).filter(|hold| !disturbed(run, hold));
        let found = if let Some(most) = asked.given(LOSS.name) {
            Found::tightest(holds.filter_map(|hold| loss(hold, most)))
        } else {
            let least = asked.value(AT_LEAST.name);
            Found::tightest(holds.map(|hold| lasted(hold, least)))
        };
        found.ok_or_else(|| match all {
            0 => "the recording shows no hold".to_owned(),
            n => format!("an event falls into each of the {n} holds, or they have no pressure"),
        })
    }
}

fn at(hold: &Phase, quantity: Quantity, (least, most): (f64, f64)) -> Found {
    Found {
        quantity,
        least,
        most,
        when_s: Some(hold.t_start_s),
        reason: format!("hold from {:.1} to {:.1} s", hold.t_start_s, hold.t_end_s),
    }
}

fn lasted(hold: &Phase, least: f64) -> Found {
    let quantity = Quantity::known(
        hold.t_end_s - hold.t_start_s,
        2f64.sqrt() * U_DURATION_S,
        "s",
        "from the end of one motion of the hand to the start of the next",
    );
    at(hold, quantity, (least, f64::INFINITY))
}

fn loss(hold: &Phase, most: f64) -> Option<Found> {
    let (start, end) = (hold.ends.pressure_start_kpa?, hold.ends.pressure_end_kpa?);
    if start <= 0.0 {
        return None;
    }
    let method = "fall of pressure over the hold, over the pressure it began with";
    let value = (start - end) / start;
    let quantity = match hold.ends.u_pressure_kpa {
        // As for a difference of two pressures: an upper bound, since they share most of their error.
        Some(u) => Quantity::known(value, 2f64.sqrt() * u / start, "1", method),
        None => Quantity::without_u(
            value,
            "1",
            method,
            "the uncertainty of the channel is not known",
        ),
    };
    Some(at(hold, quantity, (f64::NEG_INFINITY, most)))
}
