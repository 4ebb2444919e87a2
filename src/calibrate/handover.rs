//! The volume counter handed over from syringe to inflator at the stopcock: one jump, taken out so that the volume counts on.

use super::noise::median;
use super::stretches::places;
use crate::fit::straight_line;
use crate::recording::{Extent, Finding, Trace};

/// A jump is so many times larger than any other step within the window around it.
const JUMP_OVER_STEPS: f64 = 5.0;
/// Seconds on either side that must be calm for a jump to be a hand-over.
const CALM_S: f64 = 0.3;
/// Smallest jump that is worth joining, mL: a tenth of a turn of an inflator.
const JUMP_LEAST_ML: f64 = 0.05;
/// The pressure stays if it changes by no more than so many standard deviations of its noise...
const STAYS_SIGMAS: f64 = 8.0;
/// ... or this share of itself ...
const STAYS_SHARE: f64 = 0.05;
/// ... or this much, kPa: the settling of a stopcock.
const STAYS_KPA: f64 = 5.0;
/// A counter jump smaller than this many noise standard deviations is no hand-over.
const JUMP_SIGMAS: f64 = 40.0;
/// The size of a jump is told by the readings on either side that stand still: within so many standard deviations of their noise of the one
/// next to it ...
const STILL_SIGMAS: f64 = 6.0;
/// ... for as long as this, s, ...
const STILL_S: f64 = 1.0;
/// ... if they are so many; fewer leave it to the one next to it.
const STILL_FEWEST: usize = 5;

/// Finds the hand-over jump of the volume counter and takes it out. The pressure must not follow the jump: a volume really
/// moved would change it.
pub(super) fn join_counter(trace: &mut Trace, file: &str, findings: &mut Vec<Finding>) {
    let Some(volume) = trace.volume_ml.as_ref() else {
        return;
    };
    let calm = ((CALM_S / trace.step_s).round() as usize).max(2);
    let least = (JUMP_SIGMAS * trace.noise_ml).max(JUMP_LEAST_ML);
    let pressure = &trace.pressure_kpa;
    let jumps: Vec<(usize, usize, f64)> = steps(volume, least)
        .filter(|&(before, at, step)| {
            calm_around(volume, before, at, calm, step.abs() / JUMP_OVER_STEPS)
                && pressure_stays(pressure, before, at, calm, trace.noise_kpa)
        })
        .collect();
    // There is one hand-over in a run; several jumps mean a counter that cannot be joined safely, the largest is taken.
    let size = |jump: &(usize, usize, f64)| jump.2.abs();
    let largest = jumps.iter().max_by(|a, b| size(a).total_cmp(&size(b)));
    let Some(&(before, sample, _)) = largest else {
        return;
    };
    let (from, u_from) = edge(volume[..=before].iter().rev(), trace);
    let (to, u_to) = edge(volume[sample..].iter(), trace);
    let jump = to - from;
    trace.u_handover_ml = u_from.hypot(u_to);
    for value in trace.volume_ml.iter_mut().flat_map(|v| &mut v[sample..]) {
        *value -= jump;
    }
    trace.handover = Some(sample);
    findings.push(
        Finding::note(
            "counter-handover",
            format!("the volume counter jumps by {jump:.3} mL at {:.2} s while the pressure stays: taken as the hand-over from syringe to inflator and joined", trace.time_s[sample]),
        )
        .over(file, None, Extent::of(trace, &[(sample, sample + 1)]))
        .effect("volumes after it count on from those before it"),
    );
    if jumps.len() > 1 {
        let places: Vec<(usize, usize)> = jumps.iter().map(|(_, at, _)| (*at, at + 1)).collect();
        findings.push(
            Finding::doubt(
                "counter-jumps",
                format!(
                    "the volume counter jumps {} times; only the largest was joined",
                    jumps.len()
                ),
            )
            .over(file, None, Extent::of(trace, &places))
            .effect("volumes after the other jumps are off by them"),
        );
    }
}

/// The counter at the edge of a jump, mL, with its standard uncertainty: a straight line through the readings that stand still, in the order
/// from the jump away, taken to the jump.
fn edge<'v>(readings: impl Iterator<Item = &'v f64>, trace: &Trace) -> (f64, f64) {
    let noise = Some(trace.noise_ml).filter(|n| n.is_finite());
    let noise = noise.unwrap_or(0.0);
    let most = (STILL_S / trace.step_s).round() as usize;
    let mut readings = readings.copied().filter(|v| v.is_finite()).peekable();
    let next = readings.peek().copied().unwrap_or(f64::NAN);
    let mut still: Vec<f64> = readings
        .take(most.max(1))
        .take_while(|v| (v - next).abs() <= STILL_SIGMAS * noise)
        .collect();
    if still.len() < most {
        // They ended where the counter began to move: its first steps are still within the noise, and are left out with the far half.
        still.truncate(still.len().div_ceil(2).max(STILL_FEWEST));
    }
    let places: Vec<f64> = (0..still.len()).map(|k| k as f64).collect();
    match straight_line(&places, &still, None) {
        Ok(line) if still.len() >= STILL_FEWEST => (line.at(0.0), line.u_at(0.0)),
        _ => (next, noise),
    }
}

/// Steps of at least `least` from one reading to the next: reading before, reading after, step.
fn steps(volume: &[f64], least: f64) -> impl Iterator<Item = (usize, usize, f64)> {
    // A step over missing readings is seen where they end.
    let jumps = |[before, after]: &[f64; 2]| {
        ((after - before).abs() >= least) | (after.is_finite() & !before.is_finite())
    };
    places(volume, jumps).into_iter().filter_map(move |at| {
        let before = volume[..=at].iter().rposition(|value| value.is_finite())?;
        let step = volume[at + 1] - volume[before];
        (step.abs() >= least && step.is_finite()).then_some((before, at + 1, step))
    })
}

/// True where each step among the `calm` readings on either side of the step from `before` to `after` is smaller than `limit`.
fn calm_around(volume: &[f64], before: usize, after: usize, calm: usize, limit: f64) -> bool {
    let quiet = |values: &mut dyn Iterator<Item = f64>| {
        let mut last = f64::NAN;
        values
            .filter(|v| v.is_finite())
            .take(calm + 1)
            .all(|value| {
                let step = (value - last).abs();
                last = value;
                step.is_nan() || step < limit
            })
    };
    quiet(&mut volume[..=before].iter().rev().copied())
        && quiet(&mut volume[after..].iter().copied())
}

fn pressure_stays(
    pressure: &[f64],
    before: usize,
    after: usize,
    window: usize,
    noise: f64,
) -> bool {
    let left = median(&pressure[(before + 1).saturating_sub(window)..=before]);
    let right = median(&pressure[after..(after + window).min(pressure.len())]);
    // The small spike and settling of a stopcock are allowed for; a volume of the jump's size would move far more.
    !(left.is_finite() && right.is_finite())
        || (left - right).abs()
            < (STAYS_SIGMAS * noise)
                .max(STAYS_SHARE * left.abs().max(right.abs()))
                .max(STAYS_KPA)
}
