//! The outcome of a frame run: the trace, the inspected frame and its diameters weighed together.
//!
//! The trace never overrules the inspected frame. A fast fall is a fracture only if the frame is not known to be unchanged; a
//! frame that is known to be unchanged makes it a slip. Evidence that disagrees is graded so, not dropped.

use crate::recording::{Event, EventKind, Finding, Grade, Inspection, Outcome};
use crate::rig::{Settings, settings};
use crate::uncertain::Quantity;

/// What is known of the frame after the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FrameState {
    /// Its diameter changed.
    Changed,
    /// Its diameter is the one before, within the smallest set that counts.
    Unchanged,
    /// Nobody measured.
    Unknown,
}

impl FrameState {
    /// From the set over the diameter before.
    pub fn of(set_ratio: &Quantity, settings: &Settings) -> Self {
        match (set_ratio.value, set_ratio.u) {
            // Without an uncertainty the smallest set that counts is all there is to go by.
            (Some(set), u)
                if set > settings.set_ratio_least
                    && set > settings.set_sigmas * u.unwrap_or(0.0) =>
            {
                Self::Changed
            }
            (Some(_), _) => Self::Unchanged,
            (None, _) => Self::Unknown,
        }
    }
}

/// An outcome with its events and its reason.
pub struct Judged {
    /// Outcome.
    pub outcome: Outcome,
    /// One sentence.
    pub reason: String,
    /// Events with kind and grade settled.
    pub events: Vec<Event>,
    /// Doubts raised on the way.
    pub findings: Vec<Finding>,
}

/// Judges a frame run.
pub fn judge_run(
    mut events: Vec<Event>,
    inspection: Option<Inspection>,
    frame: FrameState,
    gap_seen: bool,
    step_s: f64,
    settings: &Settings,
) -> Judged {
    let mut findings = Vec::new();
    settle_falls(
        &mut events,
        inspection,
        frame,
        gap_seen,
        step_s,
        &settings.outcome,
        &mut findings,
    );
    for event in &mut events {
        event.grade = grade(event.kind, inspection);
    }
    let broken_by_eye =
        inspection == Some(Inspection::Fractured) || (inspection.is_none() && gap_seen);
    if broken_by_eye && !events.iter().any(|e| e.kind == EventKind::Fracture) {
        events.push(unseen_fracture(settings.outcome.seen_confidence));
        findings.push(Finding::doubt(
            "fracture-not-in-trace",
            "the frame was found broken but the recording shows no fall that tells when; the fracture has no pressure",
        ));
    }
    let (outcome, reason) = decide(&events, inspection, frame, broken_by_eye, settings);
    findings.extend(disagreement(&events, inspection));
    Judged {
        outcome,
        reason,
        events,
        findings,
    }
}

/// Fracture or slip: by speed where the clock is fast enough to tell, else by what became of the frame.
fn settle_falls(
    events: &mut [Event],
    inspection: Option<Inspection>,
    frame: FrameState,
    gap_seen: bool,
    step_s: f64,
    settings: &settings::Outcome,
    findings: &mut Vec<Finding>,
) {
    let whole = matches!(inspection, Some(Inspection::Intact | Inspection::Slip));
    let slow_clock = step_s > settings.speed_told_step_s;
    let broken = inspection == Some(Inspection::Fractured) || gap_seen;
    let any_fast = events.iter().any(|e| e.kind == EventKind::Fracture);
    // Of several slower falls the largest is the one that can have been the break.
    let largest = events
        .iter()
        .enumerate()
        .filter(|(_, e)| e.kind == EventKind::Slip)
        .max_by(|a, b| drop_of(a.1).total_cmp(&drop_of(b.1)))
        .map(|(at, _)| at);
    for (at, event) in events.iter_mut().enumerate() {
        match event.kind {
            EventKind::Fracture if !broken && frame == FrameState::Unchanged => {
                settled(event, EventKind::Slip, settings);
                event.evidence.push(
                    "the frame's diameter is unchanged: taken as a slip, not a fracture".to_owned(),
                );
                if !slow_clock && !whole {
                    findings.push(Finding::doubt(
                        "fast-fall-unchanged-frame",
                        "the fall is as fast as a fracture, but the frame's diameter is unchanged and nobody wrote down whether it is broken",
                    ).help("fill in the inspection column of runs.csv"));
                }
            }
            EventKind::Fracture if inspection == Some(Inspection::Slip) => {
                settled(event, EventKind::Slip, settings);
                event
                    .evidence
                    .push("the inspection found a slip".to_owned());
            }
            EventKind::Slip if broken && !any_fast && Some(at) == largest => {
                settled(event, EventKind::Fracture, settings);
                event.evidence.push(
                    "the frame was found broken: a slower fall that is nevertheless the fracture"
                        .to_owned(),
                );
            }
            EventKind::Slip if slow_clock && frame == FrameState::Changed && !whole => {
                settled(event, EventKind::Fracture, settings);
                event.evidence.push("the clock is too slow to tell the speed of the fall, and the frame's diameter changed".to_owned());
            }
            _ => {}
        }
    }
}

/// The inspected frame settles the kind of an event, whatever the trace alone makes likelier.
fn settled(event: &mut Event, kind: EventKind, settings: &settings::Outcome) {
    event.kind = kind;
    event.confidence = settings.seen_confidence;
}

/// Fall of an event, kPa; 0 where it has none.
fn drop_of(event: &Event) -> f64 {
    event.drop.value.unwrap_or(0.0)
}

fn grade(kind: EventKind, inspection: Option<Inspection>) -> Grade {
    let Some(seen) = inspection else {
        return Grade::TraceOnly;
    };
    let same = matches!(
        (kind, seen),
        (EventKind::Fracture, Inspection::Fractured)
            | (EventKind::Burst, Inspection::Burst)
            | (EventKind::Leak, Inspection::Leak)
            | (EventKind::Slip, Inspection::Slip)
    );
    match kind {
        _ if same => Grade::Agree,
        EventKind::Fracture => Grade::Disagree,
        // What the eye wrote of the frame says nothing on the balloon, and nothing on the onset of yield.
        EventKind::Yield => Grade::TraceOnly,
        _ if matches!(seen, Inspection::Fractured | Inspection::Intact) => Grade::TraceOnly,
        _ => Grade::Disagree,
    }
}

/// A break or a burst against the inspection: an error, which somebody has to settle. The inspection stands until then. A balloon that
/// slipped or leaked before it did what the eye saw is no contradiction.
fn disagreement(events: &[Event], inspection: Option<Inspection>) -> Option<Finding> {
    let against: Vec<&Event> = events
        .iter()
        .filter(|event| event.grade == Grade::Disagree)
        .filter(|event| matches!(event.kind, EventKind::Fracture | EventKind::Burst))
        .collect();
    let (first, seen) = (against.first()?, inspection?);
    let when = first
        .t_s
        .map_or_else(String::new, |t| format!(" at {t:.2} s"));
    let (kind, seen) = (first.kind.word(), seen.word());
    Some(
        Finding::error(
            "trace-against-inspection",
            format!("the trace shows a {kind}{when}, but the inspection says \"{seen}\"; the inspection stands"),
        )
        .count(against.len())
        .effect("the outcome of the run is the one of the inspection")
        .help("look at the frame and the balloon again, under magnification, and correct the inspection column of runs.csv or keep it"),
    )
}

fn unseen_fracture(confidence: f64) -> Event {
    let reason = "not seen in the trace";
    Event {
        kind: EventKind::Fracture,
        t_s: None,
        t_lo_s: None,
        t_hi_s: None,
        sample: None,
        pressure: Quantity::missing("kPa", reason),
        drop: Quantity::missing("kPa", reason),
        volume: Quantity::missing("mL", reason),
        pressures: Vec::new(),
        confidence,
        log_odds: Vec::new(),
        grade: Grade::InspectionOnly,
        evidence: vec!["the inspection found the frame broken".to_owned()],
        before: 0,
        after: 0,
    }
}

fn decide(
    events: &[Event],
    inspection: Option<Inspection>,
    frame: FrameState,
    broken_by_eye: bool,
    settings: &Settings,
) -> (Outcome, String) {
    let has = |kind: EventKind| events.iter().any(|e| e.kind == kind);
    if broken_by_eye {
        return (Outcome::Fractured, "the frame was found broken".to_owned());
    }
    // Any word of the eye that is not "fractured" stands until somebody has settled it: see `disagreement`.
    let other = [
        Inspection::Intact,
        Inspection::Burst,
        Inspection::Leak,
        Inspection::Slip,
    ];
    if has(EventKind::Fracture) && !inspection.is_some_and(|seen| other.contains(&seen)) {
        let changed = if frame == FrameState::Changed {
            ", and its diameter changed"
        } else {
            ""
        };
        return (
            Outcome::Fractured,
            format!("the pressure fell as it does when a frame breaks{changed}"),
        );
    }
    let balloon = [
        (
            EventKind::Burst,
            Inspection::Burst,
            Outcome::Burst,
            "the balloon burst before the frame broke",
        ),
        (
            EventKind::Leak,
            Inspection::Leak,
            Outcome::Leak,
            "the balloon or line leaked before the frame broke",
        ),
        (
            EventKind::Slip,
            Inspection::Slip,
            Outcome::Slip,
            "the balloon slipped before the frame broke",
        ),
    ];
    for (kind, seen, outcome, reason) in balloon {
        let in_trace = has(kind);
        if in_trace || inspection == Some(seen) {
            let witness = if in_trace { "" } else { " (inspection only)" };
            return (outcome, format!("{reason}{witness}"));
        }
    }
    let least = 100.0 * settings.set_ratio_least;
    match frame {
        FrameState::Changed => (
            Outcome::Stretched,
            format!(
                "no break, and the diameter after is more than {least:.1} % larger than before"
            ),
        ),
        FrameState::Unchanged => (
            Outcome::Unchanged,
            format!(
                "no break, and the diameter after is within {least:.1} % (or its uncertainty) of the one before"
            ),
        ),
        FrameState::Unknown if has(EventKind::Yield) => (
            Outcome::Stretched,
            "no break; nobody measured the frame afterwards, but its load curve yields".to_owned(),
        ),
        FrameState::Unknown => (
            Outcome::Unchanged,
            "no break seen; nobody measured the frame afterwards".to_owned(),
        ),
    }
}
