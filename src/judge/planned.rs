//! Fracture against what was planned before each run: a pressure that the frame was to be loaded to, or any other column of numbers.

use super::dose::{Dose, OTHER_DOSES, curves};
use super::groups::ended_by_balloon;
use super::sample::Sample;
use super::words::{names, runs as so_many};
use crate::recording::{DoseResult, Outcome, RunResult};
use crate::rig::DoseColumn;
use crate::units::Dimension;

/// How far the pressure of a run may stand off its planned level, as a share of it: a dial of an inflator is read to some per cent, and the
/// pressure falls by as much when the hand stops (common practice, no source).
const WITHIN_LEVEL: f64 = 0.05;

/// What a run says of the level it was planned for.
enum Said {
    Broke,
    Held,
    Nothing,
}

/// Probability of fracture against the planned level; empty where the study names no such column, or no run has a number in it.
///
/// Of a planned pressure a run says that the frame breaks at it where it broke up to there, and that it holds where it held to there, whatever
/// happened beyond and whether or not the balloon gave up then; what broke or held short of that says nothing of the level. A level of another
/// kind takes runs as they ended, but for those that the balloon ended.
pub(super) fn planned(
    sample: &Sample<'_>,
    against: Option<&DoseColumn>,
    confidence: f64,
    remarks: &mut Vec<String>,
) -> Vec<DoseResult> {
    let Some(against) = against else {
        return Vec::new();
    };
    let of_pressure = against.unit.dimension == Dimension::Pressure;
    let mut outcomes = Vec::new();
    let (mut silent, mut unplanned, mut beyond) = (Vec::new(), Vec::new(), Vec::new());
    for run in &sample.runs {
        let Some(level) = run.setup.planned_dose else {
            unplanned.push(run.run_id.as_str());
            continue;
        };
        let said = if of_pressure {
            at_pressure(sample, run, level)
        } else {
            as_ended(run)
        };
        match said {
            Said::Nothing => silent.push(run.run_id.as_str()),
            Said::Broke => outcomes.push((level, true)),
            Said::Held => {
                outcomes.push((level, false));
                if run.outcome == Outcome::Fractured {
                    beyond.push(run.run_id.as_str());
                }
            }
        }
    }
    if unplanned.len() == sample.runs.len() {
        remarks.push(format!(
            "No curve of fracture against {}: no run has a number in that column.",
            against.name
        ));
        return Vec::new();
    }
    let unit = against.unit.bench().symbol;
    let mut told = |runs: &[&str], what: &str| {
        if !runs.is_empty() {
            remarks.push(format!(
                "Fracture against {}: {} {what} ({}).",
                against.name,
                so_many(runs.len()),
                names(runs.iter().copied())
            ));
        }
    };
    told(&unplanned, "without a number in that column left out");
    told(
        &silent,
        if of_pressure {
            "left out, which neither held to the level nor are known to have broken up to it: where frames that would have held are among them, the curve stands too far to the left"
        } else {
            "left out, which the balloon ended"
        },
    );
    told(
        &beyond,
        "counted as whole, which broke beyond the level after holding it",
    );
    let remark = if of_pressure {
        format!(
            "{} is the level fixed before the run; a pressure within {} % of it counts as the level. Uncertainties of the pressure are not in the curve.",
            capital(&against.name),
            100.0 * WITHIN_LEVEL
        )
    } else {
        format!(
            "{} is the number fixed before the run; its uncertainty is not in the curve.",
            capital(&against.name)
        )
    };
    let dose = Dose {
        name: &against.name,
        quantity: &quantity(&against.name),
        unit,
        remark: &remark,
    };
    curves(&dose, sample, &outcomes, confidence, remarks)
}

/// Its name in the results; never that of a dose of another kind.
fn quantity(name: &str) -> String {
    let name = name.replace(' ', "_");
    if OTHER_DOSES.contains(&name.as_str()) {
        format!("planned_{name}")
    } else {
        name
    }
}

fn as_ended(run: &RunResult) -> Said {
    if ended_by_balloon(run) {
        Said::Nothing
    } else if run.outcome == Outcome::Fractured {
        Said::Broke
    } else {
        Said::Held
    }
}

/// By the pressures between which the frame broke, or up to which it held.
fn at_pressure(sample: &Sample<'_>, run: &RunResult, level_kpa: f64) -> Said {
    // Alone in a sample the run keeps the definition of its pressure, its step and the limit of its channel.
    let alone = sample.only(|other| other.run_id == run.run_id);
    let Some(strength) = alone.ranges.first() else {
        return Said::Nothing;
    };
    if strength.up_to <= level_kpa * (1.0 + WITHIN_LEVEL) {
        Said::Broke
    } else if strength.above >= level_kpa * (1.0 - WITHIN_LEVEL) {
        Said::Held
    } else {
        Said::Nothing
    }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
