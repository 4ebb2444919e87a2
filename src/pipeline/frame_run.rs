//! A frame run: detect, diameters, flow, outcome.

use super::{Attempt, Prepared, References, Study, dial, effects, flow, frame_under_load, results};
use crate::balloon::{optical_before, relaxations};
use crate::detect::detect;
use crate::judge::{FrameState, judge_run};
use crate::measure::{self, OpenRingInput, SpecimenInput, caliper::GaugeWorth};
use crate::recording::{
    Event, EventKind, Finding, FrameRow, PhaseKind, Place, RunResult, RunRow, Severity,
};
use crate::rig::Rig;
use crate::uncertain::Trials;

/// Words of an observation that tells of a broken ring.
const BROKEN_WORDS: [&str; 3] = ["gap", "broken", "break"];

/// Analyses a frame run. Diameters and flow are measured even where the recording cannot be used.
pub(super) fn analyse(
    study: &Study,
    references: &References,
    run: &RunRow,
    attempt: &Attempt,
    trials: Option<Trials>,
) -> RunResult {
    let mut result = results::bare(study, run, attempt);
    let Ok(rig) = study.rig_of(run) else {
        return result;
    };
    let frame_row = study
        .tables
        .frames
        .iter()
        .find(|f| Some(&f.frame_id) == run.frame_id.as_ref());
    let balloon_row = study
        .tables
        .balloons
        .iter()
        .find(|b| Some(&b.balloon_id) == run.balloon_id.as_ref());
    measure_specimen(
        study,
        rig,
        (run, frame_row),
        attempt.prepared.as_ref(),
        trials,
        &mut result,
    );
    flow::measure(study, rig, run, trials, &mut result);
    let Some(prepared) = &attempt.prepared else {
        return result;
    };
    let (events, smallest) = detect(
        &prepared.trace,
        &prepared.phases,
        &prepared.motion,
        references.line.as_ref(),
        study.settings(),
    );
    result.recording.smallest_drop_kpa = smallest;
    judge_events(study, run, prepared, events, &mut result);
    effects::near_events(&mut result.findings, &result.events);
    frame_under_load::add(
        study,
        references,
        run,
        prepared,
        (frame_row, balloon_row),
        trials,
        &mut result,
    );
    let events_s: Vec<f64> = result
        .events
        .iter()
        .filter(|e| e.kind != EventKind::Yield)
        .filter_map(|e| e.t_s)
        .collect();
    let holds = relaxations(
        &prepared.trace,
        &prepared.phases,
        &events_s,
        &study.settings().relaxation,
    );
    match holds {
        Ok(holds) => result.relaxation = holds,
        Err(reason) => result.relaxation_reason = Some(reason),
    }
    if let Some(trials) = trials {
        super::trials::add(&mut result, trials);
    }
    if result
        .findings
        .iter()
        .any(|f| f.severity == Severity::Error)
    {
        // An error that left a usable recording (a bad table row, say) does not take the outcome away.
        result.outcome_reason.push_str("; see the error finding");
    }
    result
}

fn measure_specimen(
    study: &Study,
    rig: &Rig,
    (run, frame): (&RunRow, Option<&FrameRow>),
    prepared: Option<&Prepared>,
    trials: Option<Trials>,
    result: &mut RunResult,
) {
    let readings: Vec<_> = study
        .tables
        .calipers
        .iter()
        .filter(|c| c.run_id == run.run_id)
        .collect();
    let contours: Vec<_> = study
        .tables
        .contours
        .iter()
        .filter(|c| c.run_id == run.run_id)
        .collect();
    let plugs: Vec<f64> = study
        .tables
        .calipers
        .iter()
        .filter(|c| c.method == crate::recording::GaugeMethod::Plug)
        .map(|c| c.value_mm)
        .collect();
    let after_when = study
        .tables
        .observations
        .iter()
        .find(|o| o.run_id == run.run_id && o.what.to_lowercase().contains("after measured"))
        .map(|o| format!("{} {}", o.value, o.unit.as_deref().unwrap_or("")));
    let optical_loaded = prepared.and_then(|p| {
        let hold = p
            .phases
            .iter()
            .rev()
            .find(|phase| phase.kind == PhaseKind::Hold)?;
        optical_before(&p.trace, hold.t_end_s)
    });
    let specimen = measure::specimen(&SpecimenInput {
        readings: &readings,
        contours: &contours,
        photographs: &result.photographs,
        gauge: GaugeWorth {
            repeat: study.repeatability,
            ..GaugeWorth::declared(rig.caliper_resolution_mm, rig.caliper_u_mm)
        },
        plug_step_mm: measure::plug::plug_step(&plugs),
        optical_loaded,
        true_id_mm: frame.and_then(|frame| frame.true_id_mm),
        after_when: after_when.as_deref().map(str::trim),
        ring: OpenRingInput {
            observations: &result.observations,
            inspection: run.inspection,
            frame,
        },
        trials: trials.map(|trials| (run.run_id.as_str(), trials)),
    });
    // What no row tells of stands at the row of the run.
    let placed = |finding: Finding| {
        let finding = finding.run(&run.run_id);
        if finding.file.is_some() {
            finding
        } else {
            finding.at(Place::line(&run.file, run.line))
        }
    };
    result
        .findings
        .extend(specimen.findings.into_iter().map(placed));
    result.budgets.extend(specimen.budgets);
    result.monte_carlo = specimen.by_trials;
    result.diameters = Some(specimen.diameters);
    result.areas = Some(specimen.areas);
}

fn judge_events(
    study: &Study,
    run: &RunRow,
    prepared: &Prepared,
    events: Vec<Event>,
    result: &mut RunResult,
) {
    let settings = study.settings();
    let frame = result.diameters.as_ref().map_or(FrameState::Unknown, |d| {
        FrameState::of(&d.set_ratio, settings)
    });
    let gap_seen = result.observations.iter().any(|o| {
        let what = o.what.to_lowercase();
        BROKEN_WORDS.iter().any(|word| what.contains(word)) && !o.says_none()
    });
    let judged = judge_run(
        events,
        run.inspection,
        frame,
        gap_seen,
        prepared.trace.step_s,
        settings,
    );
    result.outcome = judged.outcome;
    result.outcome_reason = judged.reason;
    result.events = judged.events;
    dial::add(&mut result.events, &result.observations);
    result
        .findings
        .extend(judged.findings.into_iter().map(|f| f.run(&run.run_id)));
}
