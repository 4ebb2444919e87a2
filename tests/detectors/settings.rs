//! What the settings do: thresholds of the detector change what it finds, and none of them can break it.

use super::staircase::{Staircase, Trap, What, When, judge_by};
use hooptrace::recording::{Event, EventKind, Trace};
use hooptrace::rig::settings::{Settings, read_text};

/// Values from the largest that some setting may have to the smallest.
const LARGEST: [f64; 6] = [1e9, 1e6, 100_000.0, 3600.0, 1.0, 0.999];
const SMALLEST: f64 = 1e-9;

fn seen(happenings: Vec<(When, What)>) -> Trace {
    let (_, seen) = Staircase {
        happenings,
        ..Staircase::default()
    }
    .see();
    seen.trace
}

/// Events by thresholds written as in a study.
fn events(trace: &Trace, settings: &str) -> Vec<Event> {
    judge_by(trace, None, &read_text(settings).expect(settings)).1
}

fn count(events: &[Event], kind: EventKind) -> usize {
    events.iter().filter(|event| event.kind == kind).count()
}

#[test]
fn a_changed_threshold_changes_what_is_found() {
    let snap = seen(vec![(When::Stroke(4, 0.5), What::Snap(200.0))]);
    let found = events(&snap, "");
    assert_eq!(count(&found, EventKind::Fracture), 1);
    // A fall that must be a hundred thousand of its own uncertainties is none.
    let none = events(&snap, "falls.drop_sigmas = 100000");
    assert_eq!(count(&none, EventKind::Fracture), 0);
    // A model good to less makes the interval of the onset longer, a smaller share of the likelihood shorter.
    let width = |settings: &str| {
        let found = events(&snap, settings);
        let event = found.iter().find(|e| e.kind == EventKind::Fracture);
        let event = event.expect(settings);
        event.t_hi_s.unwrap() - event.t_lo_s.unwrap()
    };
    assert!(width("onset.inside_share = 0.5") < 0.8 * width(""));
    // No witness may say anything.
    let unsure = events(&snap, "evidence.sure_log_odds = 0.01");
    assert!(unsure.iter().all(|e| e.confidence < found[0].confidence));

    let leak = seen(vec![(When::Hold(4, 0.1), What::Leak(0.05))]);
    assert_eq!(count(&events(&leak, ""), EventKind::Leak), 1);
    for settings in ["leak.long_s = 100", "leak.lost_share = 1"] {
        assert_eq!(count(&events(&leak, settings), EventKind::Leak), 0);
    }
}

/// Each at its least and at its most, and all together as far as pairs of them stay in order.
#[test]
fn no_setting_breaks_the_detector() {
    let volume = seen(vec![
        (When::Stroke(3, 0.5), What::Slip(60.0, 0.2)),
        (When::Stroke(4, 0.5), What::Snap(200.0)),
        (When::Hold(5, 0.2), What::Leak(0.05)),
    ]);
    let (_, plain) = Staircase {
        volume: false,
        happenings: vec![(When::Stroke(4, 0.5), What::Snap(200.0))],
        traps: vec![(When::Hold(2, 0.5), Trap::Knock(40.0))],
        ..Staircase::default()
    }
    .see();
    let look = |settings: &Settings| {
        for trace in [&volume, &plain.trace] {
            let (phases, events, _) = judge_by(trace, None, settings);
            assert!(phases.last().is_none_or(|phase| phase.end == trace.len()));
            assert!(events.iter().all(|event| event.after <= trace.len()));
        }
    };
    let list = Settings::default().list();
    for largest in [true, false] {
        let mut all = String::new();
        for setting in &list {
            let values: &[f64] = if largest {
                &LARGEST
            } else if setting.whole {
                &[1.0]
            } else {
                &[SMALLEST]
            };
            let line = |value: &f64| format!("{} = {value}\n", setting.name());
            let together = |value: &f64| read_text(&format!("{all}{}", line(value))).is_ok();
            // One that must be smaller than another keeps its default among the largest.
            if let Some(value) = values.iter().find(|value| together(value)) {
                all.push_str(&line(value));
            }
            if let Some(settings) = values.iter().find_map(|v| read_text(&line(v)).ok()) {
                look(&settings);
            }
        }
        // Levels of intervals are no smaller than a half.
        assert!(all.lines().count() > list.len() - 13, "{all}");
        look(&read_text(&all).unwrap());
    }
}
