//! Every pressure on the list was reached, and held there or nearly.

use super::{Found, Step, first_end, pressure, recorded};
use crate::judge::rules::{Asked, Key, Kind};
use crate::recording::{Phase, PhaseKind, RunResult};
use crate::uncertain::Quantity;
use crate::units::Dimension;

const WITHIN: Key = Key {
    name: "within",
    kind: Kind::Measured(Dimension::Pressure),
    meaning: "how far the pressure of a stroke may be off",
    needed: true,
};
const PRESSURES: Key = Key {
    name: "pressures",
    kind: Kind::List(Dimension::Pressure),
    meaning: "gauge pressures to stop at, one after the other",
    needed: true,
};

/// For every target the stroke that ended, or the hold that began, nearest to it. Targets above the pressure of the first fracture, burst, leak
/// or slip are not asked for: nobody could stop there any more.
pub struct Targets;

impl Step for Targets {
    fn name(&self) -> &'static str {
        "targets"
    }

    fn meaning(&self) -> &'static str {
        "pressures to stop at; those above the first event are not asked for"
    }

    fn keys(&self) -> &'static [Key] {
        &[PRESSURES, WITHIN]
    }

    fn consistent(&self, _: &Asked) -> Result<(), (String, String)> {
        Ok(())
    }

    fn asks(&self, asked: &Asked) -> String {
        format!(
            "stops at {} within {}",
            asked.written(PRESSURES.name),
            asked.written(WITHIN.name)
        )
    }

    fn look(&self, asked: &Asked, run: &RunResult) -> Result<Found, String> {
        recorded(run)?;
        let off = asked.value(WITHIN.name);
        let end = first_end(run);
        let reachable = end
            .and_then(|event| event.pressure.value)
            .unwrap_or(f64::INFINITY);
        let until = end.and_then(|event| event.t_s).unwrap_or(f64::INFINITY);
        let stops: Vec<(f64, f64, &Phase)> = run
            .phases
            .iter()
            .filter(|phase| phase.t_start_s <= until)
            .filter_map(|phase| {
                let ends = phase.ends;
                match phase.kind {
                    PhaseKind::Stroke => Some((ends.pressure_end_kpa?, phase.t_end_s, phase)),
                    PhaseKind::Hold => Some((ends.pressure_start_kpa?, phase.t_start_s, phase)),
                    _ => None,
                }
            })
            .collect();
        if stops.is_empty() {
            return Err("no stroke and no hold has a pressure".to_owned());
        }
        let targets = asked.lists.get(PRESSURES.name);
        let targets = targets.into_iter().flatten().copied();
        let (asked_for, spared): (Vec<f64>, Vec<f64>) = targets.partition(|t| *t <= reachable);
        let found = asked_for.iter().filter_map(|target| {
            let near = |p: f64| (p - target).abs();
            let nearest = stops
                .iter()
                .min_by(|a, b| near(a.0).total_cmp(&near(b.0)))?;
            let (kpa, t_s, phase) = *nearest;
            Some(Found {
                quantity: pressure(
                    phase,
                    kpa,
                    "end of the nearest stroke, or start of the nearest hold",
                ),
                least: target - off,
                most: target + off,
                when_s: Some(t_s),
                reason: format!("nearest stop to {target:.1} kPa"),
            })
        });
        let not_asked = match (spared.len(), end) {
            (0, _) | (_, None) => String::new(),
            (n, Some(event)) => format!(
                "; {n} target{} above the {} not asked for",
                if n == 1 { "" } else { "s" },
                event.kind.word()
            ),
        };
        let mut found = Found::tightest(found).unwrap_or_else(|| Found {
            quantity: Quantity::missing("kPa", "no target lies below the first event"),
            least: f64::NEG_INFINITY,
            most: f64::INFINITY,
            when_s: end.and_then(|event| event.t_s),
            reason: "no target lies below the first event".to_owned(),
        });
        found.reason.push_str(&not_asked);
        Ok(found)
    }
}
