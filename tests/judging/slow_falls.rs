//! Slower falls of a frame that was found broken.

use crate::{event, quantity};
use hooptrace::judge::{FrameState, judge_run};
use hooptrace::recording::{EventKind, Inspection};
use hooptrace::rig::Settings;

/// Of several slow falls only the largest can have been the break; the others stay what they were.
#[test]
fn only_the_largest_slow_fall_is_the_break() {
    let falls = [(10.0, 20.0), (20.0, 80.0), (30.0, 40.0)];
    let events = falls.map(|(t, drop)| {
        let mut slip = event(EventKind::Slip, Some((t, 700.0)));
        slip.drop = quantity(drop, "kPa");
        slip
    });
    let judged = judge_run(
        events.to_vec(),
        Some(Inspection::Fractured),
        FrameState::Changed,
        false,
        0.01,
        &Settings::default(),
    );
    let kinds: Vec<EventKind> = judged.events.iter().map(|e| e.kind).collect();
    let expected = [EventKind::Slip, EventKind::Fracture, EventKind::Slip];
    assert_eq!(kinds, expected);
}
