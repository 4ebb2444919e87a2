//! When a run was done: calibrations are in date or not at that day.

use super::{Facts, at_run};
use crate::recording::Finding;

/// Starts that are missing or cannot be read.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for run in &facts.tables.runs {
        match &run.started_at {
            None => {
                // Where a date is needed the reader of the channels says so already.
                let dated = facts
                    .rig_of(run)
                    .is_some_and(|rig| rig.channels.iter().any(|c| c.due_on.is_some()));
                if !dated {
                    findings.push(at_run(
                        Finding::note("start-missing", "when the run was done is not said")
                            .help("fill in started_at, like 2025-03-04T08:30:00"),
                        run,
                        "started_at",
                    ));
                }
            }
            Some(text) if !is_iso(text) => findings.push(at_run(
                Finding::doubt(
                    "start-unreadable",
                    format!("started_at is \"{text}\"; a date, or a date and a time, of ISO 8601 was expected"),
                )
                .help("write it like 2025-03-04T08:30:00, with Z or +01:00 behind it where the zone is known"),
                run,
                "started_at",
            )),
            Some(_) => {}
        }
    }
    findings
}

fn is_iso(text: &str) -> bool {
    let text = text.trim();
    text.parse::<jiff::Timestamp>().is_ok()
        || text.parse::<jiff::civil::DateTime>().is_ok()
        || text.parse::<jiff::civil::Date>().is_ok()
        // Minutes are enough.
        || text.split_once(['T', ' ']).is_some_and(|(date, time)| {
            date.parse::<jiff::civil::Date>().is_ok() && time.parse::<jiff::civil::Time>().is_ok()
        })
}

#[cfg(test)]
mod tests {
    #[test]
    fn starts_are_iso() {
        for good in [
            "2025-03-04",
            "2025-03-04T08:30:00",
            "2025-03-04 08:30",
            "2025-03-04T08:30:00Z",
            "2025-03-04T08:30:00.5+01:00",
        ] {
            assert!(super::is_iso(good), "{good}");
        }
        for bad in [
            "04.03.2025",
            "2025-13-04",
            "yesterday",
            "",
            "08:30",
            "45720.35",
        ] {
            assert!(!super::is_iso(bad), "{bad}");
        }
    }
}
