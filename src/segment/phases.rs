//! Phases from motion: vent, fill, switch, stroke, hold, refill, deflate.

use super::ends::ends;
use super::{Motion, State, Stretch};
use crate::recording::{Phase, PhaseEnds, PhaseKind, Trace};
use crate::rig::settings;

/// Phases of a trace in time order, without gaps between them.
pub fn segment(trace: &Trace, motion: &Motion, settings: &settings::Phases) -> Vec<Phase> {
    if trace.is_empty() {
        return Vec::new();
    }
    let stretches = tidy(trace, motion.stretches(), settings);
    let top = trace.highest_kpa();
    let deflate_from = deflation(trace, &stretches, top, motion.from_volume, settings);
    let first_motion = stretches
        .iter()
        .find(|s| s.0 != State::Still)
        .map_or(trace.len(), |s| s.1);
    // A recording cut out of the middle of a run starts under pressure.
    let told = first_motion.max(1).min(settings.start_samples);
    let start = crate::calibrate::median(&trace.pressure_kpa[..told]);
    let loaded_from_start = start > settings.fill_share * top;
    let fill_end = if loaded_from_start {
        0
    } else {
        fill_end(trace, &stretches, top, first_motion, settings)
    };
    let switch = switch_window(trace, &stretches, fill_end);
    let mut kinds = Vec::new();
    for (k, &(state, from, to)) in stretches.iter().enumerate() {
        let kind = if from >= deflate_from.1 {
            PhaseKind::Vent
        } else if from >= deflate_from.0 {
            PhaseKind::Deflate
        } else if to <= first_motion && !loaded_from_start {
            PhaseKind::Vent
        } else if switch.is_some_and(|(a, b)| from >= a && to <= b) {
            PhaseKind::Switch
        } else if from < fill_end {
            PhaseKind::Fill
        } else {
            let refilled = k > 0 && kinds.last() == Some(&PhaseKind::Refill);
            let long = trace.time_s[to - 1] - trace.time_s[from] >= settings.hold_shortest_s;
            match state {
                State::Out if withdrawn(trace, (from, to), top, motion.from_volume, settings) => {
                    PhaseKind::Refill
                }
                State::Still if refilled => PhaseKind::Refill,
                State::Still if long => PhaseKind::Hold,
                State::In | State::Out | State::Still => PhaseKind::Stroke,
            }
        };
        kinds.push(kind);
    }
    joined(trace, &stretches, &kinds)
}

fn joined(trace: &Trace, stretches: &[Stretch], kinds: &[PhaseKind]) -> Vec<Phase> {
    let mut phases: Vec<Phase> = Vec::new();
    for (&(_, from, to), &kind) in stretches.iter().zip(kinds) {
        let t_end_s = trace.time_s[to.min(trace.len() - 1)];
        match phases.last_mut() {
            Some(last) if last.kind == kind => {
                last.end = to;
                last.t_end_s = t_end_s;
            }
            _ => phases.push(Phase {
                kind,
                t_start_s: trace.time_s[from],
                t_end_s,
                ends: PhaseEnds::default(),
                start: from,
                end: to,
            }),
        }
    }
    for phase in &mut phases {
        phase.ends = ends(trace, phase);
    }
    phases
}

/// Motion too short to be real is made still, equal neighbours are joined.
fn tidy(trace: &Trace, stretches: &[Stretch], settings: &settings::Phases) -> Vec<Stretch> {
    let mut out: Vec<Stretch> = Vec::new();
    for &(mut state, from, to) in stretches {
        if state != State::Still
            && trace.time_s[to - 1] - trace.time_s[from] < settings.motion_shortest_s - trace.step_s
        {
            state = State::Still;
        }
        match out.last_mut() {
            Some(last) if last.0 == state => last.2 = to,
            _ => out.push((state, from, to)),
        }
    }
    out
}

/// The closing withdrawal: first and one past the last sample. Scanning back, rests between withdrawals belong to it; volume going in
/// ends it.
fn deflation(
    trace: &Trace,
    stretches: &[Stretch],
    top: f64,
    from_volume: bool,
    settings: &settings::Phases,
) -> (usize, usize) {
    let none = (trace.len(), trace.len());
    let Some(last_out) = stretches.iter().rposition(|s| s.0 == State::Out) else {
        return none;
    };
    if stretches[last_out..].iter().any(|s| s.0 == State::In) {
        return none;
    }
    let mut first = last_out;
    while first > 0 && stretches[first - 1].0 != State::In {
        first -= 1;
    }
    // The rest before the first withdrawal is a hold.
    if stretches[first].0 == State::Still {
        first += 1;
    }
    let (from, to) = (stretches[first].1, stretches[last_out].2);
    if let (true, Some(volume)) = (from_volume, &trace.volume_ml) {
        let withdrawn = volume[from] - volume[to - 1];
        let left = trace.pressure_kpa[to - 1];
        // A back turn at the end of a recording that was stopped early is no deflation.
        if withdrawn < settings.emptied_ml && left > settings.fill_share * top {
            return none;
        }
    }
    if !from_volume {
        // Without volume a closing fall must end near zero, else it may be what the detector looks for.
        let end = trace.pressure_kpa[to.min(trace.len()) - 1];
        if end > settings.fill_share * top {
            return none;
        }
        // The last of the falls: what lies before a rest under pressure is not the deflation. A balloon that empties slowly seems to
        // rest near zero before it is vented; that is no rest under pressure.
        let low = |at: usize| trace.pressure_kpa[at] < settings.fill_share * top;
        let mut at = last_out;
        while low(stretches[at].1) && at >= first + 2 && stretches[at - 2].0 == State::Out {
            at -= 2;
        }
        let from = stretches[at].1;
        if trace.time_s[to - 1] - trace.time_s[from] < settings.emptying_shortest_s {
            return none;
        }
        return (from, to);
    }
    (from, to)
}

/// One past the last sample of the fill: the hand-over of the counter, else where the pressure first leaves the low range after a
/// lot of volume went in.
fn fill_end(
    trace: &Trace,
    stretches: &[Stretch],
    top: f64,
    first_motion: usize,
    settings: &settings::Phases,
) -> usize {
    if let Some(handover) = trace.handover {
        return handover;
    }
    let low = settings.fill_share * top;
    let leaves = (first_motion..trace.len())
        .find(|&i| trace.pressure_kpa[i] > low)
        .unwrap_or(first_motion);
    let filled = match &trace.volume_ml {
        Some(volume) => volume[leaves.min(volume.len() - 1)] - volume[0],
        None => 0.0,
    };
    // A blank line takes a millilitre or two to leave the low range, a balloon ten and more.
    if filled < settings.filled_ml {
        return first_motion;
    }
    stretches
        .iter()
        .take_while(|s| s.1 < leaves)
        .filter(|s| s.0 == State::In)
        .map(|s| s.1)
        .last()
        .unwrap_or(first_motion)
}

/// The rests around the end of the fill.
fn switch_window(trace: &Trace, stretches: &[Stretch], fill_end: usize) -> Option<(usize, usize)> {
    trace.handover?;
    let at = stretches
        .iter()
        .position(|s| s.1 <= fill_end && fill_end < s.2)?;
    let (mut first, mut last) = (at, at);
    while first > 0 && stretches[first - 1].0 == State::Still {
        first -= 1;
    }
    while last + 1 < stretches.len() && stretches[last + 1].0 == State::Still {
        last += 1;
    }
    (stretches[at].0 == State::Still).then(|| (stretches[first].1, stretches[last].2))
}

fn withdrawn(
    trace: &Trace,
    (from, to): (usize, usize),
    top: f64,
    from_volume: bool,
    settings: &settings::Phases,
) -> bool {
    let (first, last) = (from, to.min(trace.len() - 1));
    let lost = trace.pressure_kpa[first] - trace.pressure_kpa[last];
    match (&trace.volume_ml, from_volume) {
        (Some(volume), true) => {
            volume[first] - volume[last] > settings.refill_ml || lost > settings.refill_share * top
        }
        _ => lost > settings.refill_share * top,
    }
}
