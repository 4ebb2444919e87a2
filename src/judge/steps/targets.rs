//! Every pressure on the list was reached, and held there or nearly.

use super::{Claim, Found, Step, first_end, pressure, recorded};
use crate::judge::rules::{Asked, Key, Kind};
use crate::recording::{Phase, PhaseKind, RunResult};
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

/// For every target a stroke that ended, or a hold that began, near it and none before that of the target listed before it; of all such
/// choices the one whose worst stop is nearest. Targets above the pressure of the first fracture, burst, leak or slip are not asked for: nobody
/// could stop there any more.
pub struct Targets;

impl Step for Targets {
    fn name(&self) -> &'static str {
        "targets"
    }

    fn meaning(&self) -> &'static str {
        "pressures to stop at, in this order; those above the first event are not asked for"
    }

    fn keys(&self) -> &'static [Key] {
        &[PRESSURES, WITHIN]
    }

    fn consistent(&self, _: &Asked) -> Result<(), (String, String)> {
        Ok(())
    }

    fn claims(&self, asked: &Asked) -> Vec<Claim> {
        let targets = asked.lists.get(PRESSURES.name).into_iter().flatten();
        targets.copied().map(Claim::AimsAt).collect()
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
                let (kpa, t_s) = match phase.kind {
                    PhaseKind::Stroke => (ends.pressure_end_kpa?, phase.t_end_s),
                    PhaseKind::Hold => (ends.pressure_start_kpa?, phase.t_start_s),
                    _ => return None,
                };
                kpa.is_finite().then_some((kpa, t_s, phase))
            })
            .collect();
        if stops.is_empty() {
            return Err("no stroke and no hold has a pressure".to_owned());
        }
        let targets = asked.lists.get(PRESSURES.name);
        let targets = targets.into_iter().flatten().copied();
        let (asked_for, spared): (Vec<f64>, Vec<f64>) = targets.partition(|t| *t <= reachable);
        if asked_for.is_empty() {
            let event = end.map_or("event", |event| event.kind.word());
            return Err(format!("every target lies above the {event}"));
        }
        let pressures: Vec<f64> = stops.iter().map(|(kpa, ..)| *kpa).collect();
        let chosen = in_order(&asked_for, &pressures);
        let chosen = chosen.into_iter().filter_map(|at| stops.get(at));
        let found = asked_for
            .iter()
            .zip(chosen)
            .map(|(target, (kpa, t_s, phase))| Found {
                quantity: pressure(
                    phase,
                    *kpa,
                    "end of the nearest stroke, or start of the nearest hold, in the order of the targets",
                ),
                least: target - off,
                most: target + off,
                when_s: Some(*t_s),
                reason: format!("nearest stop to {target:.1} kPa in the order of the targets"),
            });
        let not_asked = match (spared.len(), end) {
            (0, _) | (_, None) => String::new(),
            (n, Some(event)) => format!(
                "; {n} target{} above the {} not asked for",
                if n == 1 { "" } else { "s" },
                event.kind.word()
            ),
        };
        let mut found = Found::tightest(found).ok_or("no target is asked for")?;
        found.reason.push_str(&not_asked);
        Ok(found)
    }
}

/// For each target the place of its stop, never before that of the target before it, so that the largest distance of all is the smallest that
/// this order allows.
fn in_order(targets: &[f64], stops: &[f64]) -> Vec<usize> {
    // For each target and stop the largest distance so far, with that target at this stop or one before.
    let mut worst: Vec<Vec<f64>> = Vec::with_capacity(targets.len());
    for target in targets {
        let mut least = f64::INFINITY;
        let row = stops.iter().enumerate().map(|(at, stop)| {
            let before = worst.last().and_then(|row| row.get(at)).copied();
            least = least.min((stop - target).abs().max(before.unwrap_or(0.0)));
            least
        });
        worst.push(row.collect());
    }
    let mut last = stops.len();
    let mut chosen: Vec<usize> = Vec::with_capacity(targets.len());
    for row in worst.iter().rev() {
        let row = row.get(..last).unwrap_or(row);
        // The first stop as good as any up to the one chosen for the next target.
        let at = row
            .last()
            .map_or(0, |least| row.partition_point(|worst| worst > least));
        chosen.push(at);
        last = at + 1;
    }
    chosen.reverse();
    chosen
}
