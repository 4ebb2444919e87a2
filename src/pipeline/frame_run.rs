//! A frame run: detect, frame load, diameters, flow, outcome.

use super::{Attempt, Prepared, References, Study, dial, effects, flow, results};
use crate::balloon::{FrameLoad, FreeBalloon, LoadInput, frame_load, optical_before};
use crate::detect::detect;
use crate::judge::{FrameState, judge_run};
use crate::measure::{self, OpenRingInput, SpecimenInput, caliper::GaugeWorth, mechanics};
use crate::recording::{
    BalloonRow, Curve, Diameters, Event, EventKind, Finding, FrameResult, FrameRow, Grade, Outcome,
    PhaseKind, Place, RunResult, RunRow, Severity,
};
use crate::rig::Rig;
use crate::uncertain::{Quantity, Trials};

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
    let free = run
        .balloon_id
        .as_ref()
        .and_then(|id| references.balloons.get(id));
    load_frame(
        references,
        study.settings().outcome.yield_confidence,
        run,
        prepared,
        free,
        (frame_row, balloon_row),
        &mut result,
    );
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
            resolution_mm: rig.caliper_resolution_mm,
            u_mm: rig.caliper_u_mm,
            repeat: study.repeatability,
        },
        plug_step_mm: measure::plug::plug_step(&plugs),
        optical_loaded,
        after_when: after_when.as_deref().map(str::trim),
        ring: OpenRingInput {
            observations: &result.observations,
            inspection: run.inspection,
            frame,
        },
        trials: trials.map(|trials| (run.run_id.as_str(), trials)),
    });
    result
        .findings
        .extend(specimen.findings.into_iter().map(|f| f.run(&run.run_id)));
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

fn load_frame(
    references: &References,
    yield_confidence: f64,
    run: &RunRow,
    prepared: &Prepared,
    free: Option<&FreeBalloon>,
    (frame_row, balloon_row): (Option<&FrameRow>, Option<&BalloonRow>),
    result: &mut RunResult,
) {
    let pair =
        |pick: fn(&Diameters) -> &Quantity| result.diameters.as_ref().and_then(|d| pick(d).pair());
    let (before, loaded) = (pair(|d| &d.before), pair(|d| &d.loaded));
    let until_s = result
        .events
        .iter()
        .filter_map(|e| e.t_s)
        .fold(f64::INFINITY, f64::min);
    let input = free.map(|free| LoadInput {
        trace: &prepared.trace,
        rests: &prepared.rests,
        free,
        line: references.line.as_ref(),
        before,
        loaded,
        band_height_mm: frame_row.and_then(|f| f.band_height_mm),
        until_s,
    });
    let mut load = input.as_ref().map_or_else(
        || Err("the run names no balloon, or nothing is known of it".to_owned()),
        frame_load,
    );
    if let Ok(load) = &mut load {
        leave_out_after_loss(load, &result.events);
    }
    if let Some((d, u)) = at_event(
        input.as_ref(),
        load.as_ref().ok(),
        &prepared.trace,
        &result.events,
    ) && let Some(diameters) = &mut result.diameters
    {
        diameters.at_event = Quantity::known(
            d,
            u,
            "mm",
            load.as_ref()
                .map_or_else(|_| "optical channel".to_owned(), |l| l.source.clone()),
        );
    }
    if let Ok(load) = &load {
        add_yield(load, &prepared.trace, yield_confidence, result);
    }
    if let Err(reason) = &load {
        result.findings.push(
            Finding::note(
                "no-frame-load",
                format!("the load on the frame cannot be had: {reason}"),
            )
            .at(Place::line(&run.file, run.line))
            .run(&run.run_id),
        );
    }
    result.frame = Some(frame_result(
        &load,
        prepared,
        free,
        frame_row,
        balloon_row,
        result,
    ));
}

/// Takes the points away that say nothing of the frame: after a burst or a slip the balloon no longer stands in it, and after a leak the
/// volume kept out is partly volume lost, so that only an optical diameter still holds.
fn leave_out_after_loss(load: &mut FrameLoad, events: &[Event]) {
    let by_volume = load.waist_length_mm.is_some();
    let lost = events
        .iter()
        .filter(|e| match e.kind {
            EventKind::Burst | EventKind::Slip => true,
            EventKind::Leak => by_volume,
            EventKind::Fracture | EventKind::Yield => false,
        })
        .filter_map(|e| e.t_s)
        .fold(f64::INFINITY, f64::min);
    load.points.retain(|p| p.t_s <= lost);
}

/// Diameter at the first timed event that concerns the frame.
fn at_event(
    input: Option<&LoadInput<'_>>,
    load: Option<&FrameLoad>,
    trace: &crate::recording::Trace,
    events: &[Event],
) -> Option<(f64, f64)> {
    let event = events
        .iter()
        .find(|e| e.kind == EventKind::Fracture && e.t_s.is_some())?;
    let t = event.t_s?;
    match (input, load) {
        (Some(input), Some(load)) => load.diameter_before(
            input,
            t,
            event.pressure.value?,
            event.volume.value.unwrap_or(f64::NAN),
        ),
        _ => optical_before(trace, t),
    }
}

/// Balloon pressure at the onset of yield: the middle of the quasi-static points around it, known to the step between them.
fn yield_pressure(load: &FrameLoad, t_s: f64, trace: &crate::recording::Trace) -> Quantity {
    let after = load.points.iter().position(|p| p.t_s >= t_s);
    let around =
        after.and_then(|k| Some((load.points.get(k.checked_sub(1)?)?, load.points.get(k)?)));
    around.map_or_else(
        || Quantity::missing("kPa", "no quasi-static points on both sides of the onset"),
        |(a, b)| {
            let middle = f64::midpoint(a.pressure_kpa, b.pressure_kpa);
            let step = (b.pressure_kpa - a.pressure_kpa).abs() / 12.0_f64.sqrt();
            Quantity::known(
                middle,
                step.hypot(trace.u_pressure_at(middle, a.t_s)),
                "kPa",
                "middle of the quasi-static points around the onset",
            )
        },
    )
}

/// The onset of yield is an event of its own where the frame kept a set or broke.
fn add_yield(
    load: &FrameLoad,
    trace: &crate::recording::Trace,
    confidence: f64,
    result: &mut RunResult,
) {
    let Some((t, lo, hi)) = load.yield_time else {
        return;
    };
    if !matches!(result.outcome, Outcome::Stretched | Outcome::Fractured) {
        return;
    }
    let reason = "see the load curve of the frame";
    result.events.push(Event {
        kind: EventKind::Yield,
        t_s: Some(t),
        t_lo_s: Some(lo),
        t_hi_s: Some(hi),
        sample: None,
        pressure: yield_pressure(load, t, trace),
        drop: Quantity::missing("kPa", "a yield has no drop"),
        volume: Quantity::missing("mL", reason),
        pressures: Vec::new(),
        confidence,
        log_odds: Vec::new(),
        grade: Grade::TraceOnly,
        evidence: vec!["the diameter grows faster with the load from here on (two straight lines fit better than one)".to_owned()],
        before: 0,
        after: 0,
    });
    result.events.sort_by(|a, b| {
        a.t_s
            .unwrap_or(f64::INFINITY)
            .total_cmp(&b.t_s.unwrap_or(f64::INFINITY))
    });
}

fn frame_result(
    load: &Result<FrameLoad, String>,
    prepared: &Prepared,
    free: Option<&FreeBalloon>,
    frame_row: Option<&FrameRow>,
    balloon_row: Option<&BalloonRow>,
    result: &RunResult,
) -> FrameResult {
    let peak_pressure = result.highest_pressure.clone();
    let rated = balloon_row.and_then(|b| b.rated_burst_pressure_kpa);
    let peak_over_rated = match (peak_pressure.pair(), rated) {
        (Some((p, u)), Some(rated)) => Quantity::known(
            p / rated,
            u / rated,
            "1",
            "highest pressure over rated burst pressure",
        ),
        (_, None) => {
            Quantity::missing("1", "the rated burst pressure of the balloon is not listed")
        }
        (None, _) => Quantity::missing("1", "the highest pressure has no uncertainty"),
    };
    let oversize = |inner: Option<f64>, what: &str| oversize(free, &peak_pressure, inner, what);
    let (true_id, true_id_ratio) =
        oversize(frame_row.and_then(|f| f.true_id_mm), "true inner diameter");
    let (stent_id, stent_id_ratio) = oversize(
        frame_row.and_then(|f| f.stent_id_mm),
        "stent inner diameter",
    );
    let band = frame_row.and_then(|f| f.band_height_mm);
    let missing = |unit: &str, reason: &str| Quantity::missing(unit, reason.to_owned());
    let mut frame = FrameResult {
        construction: frame_row.and_then(|f| f.construction.clone()),
        peak_pressure,
        peak_over_rated,
        peak_load: missing("kPa", ""),
        peak_tension: missing("N/mm", ""),
        peak_force: missing("N", ""),
        compliance: missing("mm/kPa", ""),
        yield_load: missing("kPa", ""),
        yield_diameter: missing("mm", ""),
        oversize_true_id: true_id,
        oversize_true_id_ratio: true_id_ratio,
        oversize_stent_id: stent_id,
        oversize_stent_id_ratio: stent_id_ratio,
        diameter_source: String::new(),
        curve: Curve::default(),
        curve_time_s: Vec::new(),
        balloon_rated_kpa: rated,
    };
    match load {
        Ok(load) => fill_load(&mut frame, load, prepared, band, free),
        Err(reason) => {
            for quantity in [
                &mut frame.peak_load,
                &mut frame.peak_tension,
                &mut frame.peak_force,
                &mut frame.compliance,
                &mut frame.yield_load,
                &mut frame.yield_diameter,
            ] {
                quantity.reason = Some(reason.clone());
            }
            frame.diameter_source.clone_from(reason);
        }
    }
    frame
}

fn fill_load(
    frame: &mut FrameResult,
    load: &FrameLoad,
    prepared: &Prepared,
    band: Option<f64>,
    free: Option<&FreeBalloon>,
) {
    frame.diameter_source.clone_from(&load.source);
    frame.compliance = load.compliance.clone();
    frame.yield_load = load.yield_load.clone();
    frame.yield_diameter = load.yield_diameter.clone();
    if let Some(peak) = load
        .points
        .iter()
        .max_by(|a, b| a.load_kpa.total_cmp(&b.load_kpa))
    {
        // The free balloon stiffens with its diameter: an error of the diameter is an error of its share.
        let stiff = free.and_then(|f| f.diameter.as_ref()).map_or(0.0, |c| {
            let d = peak.diameter_mm;
            (c.pressure_for(d + 0.01) - c.pressure_for(d - 0.01)) / 0.02
        });
        let u_load = prepared
            .trace
            .u_pressure_at(peak.pressure_kpa, peak.t_s)
            .hypot(stiff * load.u_diameter_mm);
        frame.peak_load = Quantity::known(
            peak.load_kpa,
            u_load,
            "kPa",
            "pressure less that of the free balloon at equal diameter",
        );
        let tension = mechanics::tension(peak.load_kpa, peak.diameter_mm);
        let u_tension = tension
            * (u_load / peak.load_kpa.max(1e-9)).hypot(load.u_diameter_mm / peak.diameter_mm);
        frame.peak_tension =
            Quantity::known(tension, u_tension, "N/mm", "load times half the diameter");
        frame.peak_force = band.map_or_else(
            || Quantity::missing("N", "the band height of the frame is not listed"),
            |band| {
                Quantity::known(
                    mechanics::ring_force(tension, band),
                    mechanics::ring_force(u_tension, band),
                    "N",
                    "tension times band height: a lower bound, the shoulders of the balloon pull too",
                )
            },
        );
    }
    frame.curve_time_s = load.points.iter().map(|p| p.t_s).collect();
    frame.curve = Curve {
        pressure_kpa: load.points.iter().map(|p| p.load_kpa).collect(),
        diameter_mm: load.points.iter().map(|p| p.diameter_mm).collect(),
        volume_ml: if load.points.iter().all(|p| p.volume_ml.is_finite()) {
            load.points.iter().map(|p| p.volume_ml).collect()
        } else {
            Vec::new()
        },
        force_n: band.map_or_else(Vec::new, |band| {
            load.points
                .iter()
                .map(|p| mechanics::ring_force(mechanics::tension(p.load_kpa, p.diameter_mm), band))
                .collect()
        }),
    };
}

/// Balloon at the highest pressure less an inner diameter, in mm and as a ratio. The label size is no diameter and is not used.
fn oversize(
    free: Option<&FreeBalloon>,
    peak: &Quantity,
    inner: Option<f64>,
    what: &str,
) -> (Quantity, Quantity) {
    let missing = |reason: String| {
        (
            Quantity::missing("mm", reason.clone()),
            Quantity::missing("1", reason),
        )
    };
    let Some(inner) = inner.filter(|d| *d > 0.0) else {
        return missing(format!("the {what} of the frame is not listed"));
    };
    let (Some(curve), Some(p)) = (free.and_then(|f| f.diameter.as_ref()), peak.value) else {
        return missing("the diameter of the balloon at that pressure is not known".to_owned());
    };
    let text = format!("free balloon at the highest pressure less the {what} as listed");
    let over = format!("{text}, over it");
    let (off, ratio) = (curve.at(p) - inner, (curve.at(p) - inner) / inner);
    let Some(u_p) = peak.u else {
        let why = "the highest pressure has no uncertainty";
        return (
            Quantity::without_u(off, "mm", text, why),
            Quantity::without_u(ratio, "1", over, why),
        );
    };
    let slope = curve.at(p + 1.0) - curve.at(p);
    let u = curve.u_at(p).hypot(slope * u_p);
    (
        Quantity::known(off, u, "mm", text),
        Quantity::known(ratio, u / inner, "1", over),
    )
}
