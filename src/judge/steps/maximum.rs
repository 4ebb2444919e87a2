//! The pressure stayed below what the protocol allows the balloon.

use super::{Claim, Found, Step, one_of};
use crate::judge::rules::{Asked, Key, Kind};
use crate::recording::RunResult;
use crate::uncertain::Quantity;
use crate::units::Dimension;

const RATED: Key = Key {
    name: "at_most_rated",
    kind: Kind::Ratio,
    meaning: "highest pressure as a multiple of the rated burst pressure of the balloon",
    needed: false,
};
const AT_MOST: Key = Key {
    name: "at_most",
    kind: Kind::Measured(Dimension::Pressure),
    meaning: "highest gauge pressure",
    needed: false,
};

/// Highest pressure of the run, by itself or against the rated burst pressure.
pub struct Maximum;

impl Step for Maximum {
    fn name(&self) -> &'static str {
        "maximum"
    }

    fn meaning(&self) -> &'static str {
        "highest pressure, by itself or over the rated burst pressure of the balloon"
    }

    fn keys(&self) -> &'static [Key] {
        &[RATED, AT_MOST]
    }

    fn consistent(&self, asked: &Asked) -> Result<(), (String, String)> {
        let help = "write at_most_rated or at_most_kpa; for both, write two steps";
        one_of(asked, &[RATED.name, AT_MOST.name], help)?;
        if asked.given(RATED.name).is_some() && asked.given(AT_MOST.name).is_some() {
            return Err(("has two limits".to_owned(), help.to_owned()));
        }
        Ok(())
    }

    fn claims(&self, asked: &Asked) -> Vec<Claim> {
        let most = asked.given(AT_MOST.name);
        most.map(Claim::NeverAbove).into_iter().collect()
    }

    fn asks(&self, asked: &Asked) -> String {
        match asked.given(RATED.name) {
            Some(share) => format!("highest pressure at most {share} of the rated burst pressure"),
            None => format!("highest pressure at most {}", asked.written(AT_MOST.name)),
        }
    }

    fn look(&self, asked: &Asked, run: &RunResult) -> Result<Found, String> {
        let (quantity, most): (&Quantity, f64) = match asked.given(RATED.name) {
            Some(share) => (
                &run.frame
                    .as_ref()
                    .ok_or("the run has no result of the frame under load")?
                    .peak_over_rated,
                share,
            ),
            None => (&run.highest_pressure, asked.value(AT_MOST.name)),
        };
        if quantity.value.is_none() {
            let reason = quantity.reason.clone();
            return Err(reason.unwrap_or_else(|| "the highest pressure is not known".to_owned()));
        }
        // The phase that reached highest.
        let top = run
            .phases
            .iter()
            .filter_map(|phase| {
                let ends = [
                    (phase.ends.pressure_start_kpa, phase.t_start_s),
                    (phase.ends.pressure_end_kpa, phase.t_end_s),
                ];
                let ends = ends.into_iter().filter_map(|(p, t)| Some((p?, t)));
                ends.max_by(|a, b| a.0.total_cmp(&b.0))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0));
        Ok(Found {
            quantity: quantity.clone(),
            least: f64::NEG_INFINITY,
            most,
            when_s: top.map(|(_, t_s)| t_s),
            reason:
                "highest pressure of the run; its time is the end of the phase that reached highest"
                    .to_owned(),
        })
    }
}
