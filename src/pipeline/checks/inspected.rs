//! What the eye saw after a run: the one witness that the trace never overrules.

use super::{Facts, at_run};
use crate::recording::{Finding, Inspection, RunKind};

/// Frame runs nobody inspected, and inspections that do not go with the kind of run.
pub(super) fn look(facts: &Facts<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for run in &facts.tables.runs {
        match (run.kind, run.inspection) {
            (RunKind::Frame, None) => findings.push(at_run(
                Finding::doubt(
                    "not-inspected",
                    "the frame was not inspected: an event rests on the trace alone, and a slow fracture may be missed",
                )
                .help("fill in inspection: fractured, intact, burst, leak or slip"),
                run,
                "inspection",
            )),
            (RunKind::Frame, Some(Inspection::Blank))
            | (RunKind::Blank | RunKind::Free, Some(Inspection::Fractured | Inspection::Intact)) => {
                findings.push(at_run(
                    Finding::doubt(
                        "inspection-of-other-kind",
                        "what the inspection says does not go with the kind of run",
                    )
                    .help("correct kind or inspection"),
                    run,
                    "inspection",
                ));
            }
            _ => {}
        }
    }
    findings
}
