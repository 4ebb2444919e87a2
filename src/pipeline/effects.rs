//! What doubtful samples did to the numbers: in which phases they lie, and how near to an event.

use crate::recording::{Event, EventKind, Finding, Phase, PhaseKind};

/// Says of every finding about stretches of samples in which phases they lie.
pub(super) fn in_phases(findings: &mut [Finding], phases: &[Phase]) {
    for finding in findings.iter_mut().filter(|f| has_places(f)) {
        let mut words: Vec<&str> = Vec::new();
        for phase in phases {
            let inside = finding
                .stretches_s
                .iter()
                .any(|(from, to)| *from < phase.t_end_s && *to >= phase.t_start_s);
            let word = word(phase.kind);
            if inside && !words.contains(&word) {
                words.push(word);
            }
        }
        let Some((last, first)) = words.split_last() else {
            continue;
        };
        let places = if first.is_empty() {
            (*last).to_owned()
        } else {
            format!("{} and {last}", first.join(", "))
        };
        finding.add_effect(&format!("in {places}"));
    }
}

/// Says of every finding about stretches of samples how far the nearest is from each event.
pub(super) fn near_events(findings: &mut [Finding], events: &[Event]) {
    for finding in findings.iter_mut().filter(|f| has_places(f)) {
        for event in events {
            if event.kind == EventKind::Yield {
                continue;
            }
            let (Some(at), Some(nearest)) = (event.t_s, nearest(finding, event)) else {
                continue;
            };
            let name = format!("the {} at {at:.2} s", event.kind.word());
            let place = if nearest == 0.0 {
                format!("{name} lies among them")
            } else if nearest > 0.0 {
                format!("the nearest {nearest:.2} s after {name}")
            } else {
                format!("the nearest {:.2} s before {name}", -nearest)
            };
            finding.add_effect(&place);
        }
    }
}

/// A finding about the whole recording says nothing of a place.
fn has_places(finding: &Finding) -> bool {
    !finding.stretches_s.is_empty()
        && finding.effect.is_some()
        && !WHOLE.contains(&finding.code.as_str())
}

/// Findings about every sample of a recording.
const WHOLE: &[&str] = &[
    "implausible-unit",
    "unscaled-signal",
    "channel-swap",
    "sign-flip",
];

/// Time from an event to the nearest stretch, s: negative before it, 0 where it lies inside one.
fn nearest(finding: &Finding, event: &Event) -> Option<f64> {
    let at = event.t_s?;
    finding
        .stretches_s
        .iter()
        .map(|&(from, to)| {
            if from > at {
                from - at
            } else if to < at {
                to - at
            } else {
                0.0
            }
        })
        .min_by(|a, b| a.abs().total_cmp(&b.abs()))
}

fn word(kind: PhaseKind) -> &'static str {
    match kind {
        PhaseKind::Vent => "the vent",
        PhaseKind::Fill => "the fill",
        PhaseKind::Switch => "the hand-over",
        PhaseKind::Stroke => "a stroke",
        PhaseKind::Hold => "a hold",
        PhaseKind::Refill => "a refill",
        PhaseKind::Deflate => "the deflation",
    }
}
