//! The frame under load in a run: the load curve, the diameter at the event, the onset of yield.

use super::{Prepared, References, Study, chain, frame_figures};
use crate::balloon::{
    Crept, FrameLoad, FreeBalloon, LoadInput, LoadPoint, frame_load, optical_before, optical_budget,
};
use crate::recording::{
    BalloonRow, Diameters, Event, EventKind, Finding, FrameRow, Grade, Outcome, Place, RunKind,
    RunResult, RunRow,
};
use crate::segment::Rest;
use crate::uncertain::{Quantity, StatedBudget, Trials};

/// Everything the trace says of the frame under load.
pub(super) fn add(
    study: &Study,
    references: &References,
    run: &RunRow,
    prepared: &Prepared,
    (frame_row, balloon_row): (Option<&FrameRow>, Option<&BalloonRow>),
    trials: Option<Trials>,
    result: &mut RunResult,
) {
    let settings = study.settings();
    let balloon = run.balloon_id.as_ref();
    let free = balloon.and_then(|id| references.balloons.get(id));
    result.findings.extend(
        off_label(free, balloon_row)
            .map(|f| f.at(Place::line(&run.file, run.line)).run(&run.run_id)),
    );
    let unfolding = balloon.and_then(|id| references.unfoldings.get(id));
    let pair =
        |pick: fn(&Diameters) -> &Quantity| result.diameters.as_ref().and_then(|d| pick(d).pair());
    let (before, loaded) = (pair(|d| &d.before), pair(|d| &d.loaded));
    let until_s = result
        .events
        .iter()
        .filter_map(|e| e.t_s)
        .fold(f64::INFINITY, f64::min);
    let rests = undisturbed(prepared, &result.events);
    let creep = free.and_then(|free| free.creep);
    let crept = creep.map_or_else(Crept::default, |creep| creep.in_run(&prepared.trace));
    let lost = [EventKind::Slip, EventKind::Burst, EventKind::Leak];
    let lost_s = first_of(&result.events, &lost);
    let input = free.map(|free| LoadInput {
        trace: &prepared.trace,
        rests: &rests,
        free,
        unfolding,
        line: references.line.as_ref(),
        other_counter: other_counter(study, run),
        before,
        loaded,
        band_height_mm: frame_row.and_then(|f| f.band_height_mm),
        until_s,
        shoulder_by: 0.0,
        lost_s,
        crept: &crept,
        creep_by: 0.0,
        yield_offset_share: settings.frame.yield_offset_share,
    });
    let mut load = input.as_ref().map_or_else(
        || Err("the run names no balloon, or nothing is known of it".to_owned()),
        frame_load,
    );
    if let Ok(found) = &mut load {
        leave_out_after_loss(found, &result.events);
    }
    let untimed = load
        .as_ref()
        .ok()
        .and_then(|load| untimed_loss(result, load));
    if let Some(loss) = untimed {
        load = Err(format!(
            "inspection saw a {loss} that the recording does not show, so that nobody knows from when on volume or frame were lost"
        ));
    }
    let broke = result.first_fracture().filter(|e| e.t_s.is_some());
    let broke = broke.cloned();
    let at_break = broke
        .as_ref()
        .and_then(|event| just_before(input.as_ref()?, load.as_ref().ok()?, event));
    if let (Some(event), Some(diameters)) = (&broke, &mut result.diameters) {
        let found = if load.is_ok() {
            at_break.map(|p| (p.diameter_mm, p.u_diameter_mm))
        } else {
            event.t_s.and_then(|t| optical_before(&prepared.trace, t))
        };
        let alone = || Some(optical_budget(&prepared.trace, event.t_s?)?.1);
        let source = load
            .as_ref()
            .map_or("optical channel", |l| l.source.as_str());
        let budget = at_break
            .and(input.as_ref())
            .zip(load.as_ref().ok())
            .and_then(|(input, load)| {
                load.budget_before(
                    input,
                    event.t_s?,
                    (event.pressure.value?, event.pressure.u.unwrap_or(0.0)),
                    event.volume.value.unwrap_or(f64::NAN),
                )
            })
            .or_else(|| load.is_err().then(alone)?);
        diameters.at_event = found.map_or_else(
            || Quantity::missing("mm", NOT_SEEN),
            |(d, u)| Quantity::known(d, u, "mm", source),
        );
        let stated = budget.and_then(|budget| StatedBudget::of(&diameters.at_event, budget));
        if let Some(stated) = stated {
            let path = "diameters.at_event".to_owned();
            result.budgets.insert(path, stated);
        }
    }
    if let Ok(found) = &mut load
        && let Some(finding) = sprang_back_less(found, result)
    {
        result.findings.push(
            finding
                .at(Place::line(&run.file, run.line))
                .run(&run.run_id),
        );
    }
    if let Ok(load) = &load {
        add_yield(
            load,
            &prepared.trace,
            settings.outcome.yield_confidence,
            result,
        );
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
    let frame = frame_figures::of(
        &load,
        at_break.as_ref(),
        prepared,
        references,
        free,
        (frame_row, balloon_row),
        result,
    );
    result.add_budgets(&frame.budgets);
    result.frame = Some(frame);
    if let (Some(input), Ok(load), Some(trials)) = (&input, &load, trials) {
        chain::add(input, load, result, trials);
    }
}

/// At its nominal pressure a balloon is about as wide as its label says; off by more than this share, units or names are mixed up (common
/// practice, no source: charts of such balloons keep within 2 or 3 %).
const OFF_LABEL_SHARE: f64 = 0.05;

/// A doubt where the balloon at its nominal pressure is not what its label says.
fn off_label(free: Option<&FreeBalloon>, row: Option<&BalloonRow>) -> Option<Finding> {
    let (curve, row) = (free?.diameter.as_ref()?, row?);
    let (label, nominal) = (row.nominal_diameter_mm?, row.nominal_pressure_kpa?);
    let found = curve.at(nominal);
    if (found - label).abs() <= OFF_LABEL_SHARE * label {
        return None;
    }
    let finding = Finding::doubt(
        "balloon-off-label",
        format!(
            "the balloon {} is {found:.2} mm wide at its nominal pressure of {nominal:.0} kPa, and its label says {label} mm",
            row.balloon_id
        ),
    );
    Some(
        finding
            .effect("loads, oversize and diameters from the volume hang on the diameter of the balloon")
            .help("check units and balloon of charts.csv or of the free run, and the label in balloons.csv"),
    )
}

/// A whole frame springs back by what its compliance makes of its last load; one that sprang back by so many standard uncertainties less was
/// never seen elastic.
const SPRANG_SIGMAS: f64 = 4.0;

/// Takes compliance and stored energy away where the frame sprang back by less than they say, and tells it.
fn sprang_back_less(load: &mut FrameLoad, result: &RunResult) -> Option<Finding> {
    if result.outcome != Outcome::Stretched {
        return None;
    }
    let diameters = result.diameters.as_ref()?;
    let (loaded, after) = (diameters.loaded.pair()?, diameters.after.pair()?);
    let (slope, u_slope) = load.compliance.pair()?;
    let last = load.points.last()?.load_kpa;
    let (sprang, u_sprang) = (loaded.0 - after.0, loaded.1.hypot(after.1));
    let over = slope * last - sprang;
    if over <= SPRANG_SIGMAS * u_sprang.hypot(u_slope * last) {
        return None;
    }
    let why = format!(
        "the frame sprang back by {sprang:.2} mm, and its curve would have it {:.2} mm: it yielded before the curve begins, and its elastic part was not seen",
        slope * last
    );
    load.compliance = Quantity::missing("mm/kPa", why.clone());
    load.energy_stored = Quantity::missing("mJ", why.clone());
    let told = ["frame.compliance", "frame.energy_stored"];
    load.budgets.retain(|(name, _)| !told.contains(name));
    let finding = Finding::doubt("yielded-unseen", why);
    Some(finding.effect(
        "diameters from the volume kept out hang on how far the frame opened up to its first rest, and may be too large there",
    ))
}

/// Rests in which nothing happened: the middle of one in which a frame broke is neither what it held nor what it holds.
fn undisturbed(prepared: &Prepared, events: &[Event]) -> Vec<Rest> {
    let sudden = |e: &&Event| {
        let kinds = [EventKind::Fracture, EventKind::Burst, EventKind::Slip];
        kinds.contains(&e.kind) && e.t_s.is_some()
    };
    prepared
        .rests
        .iter()
        .filter(|r| {
            let mut sudden = events.iter().filter(sudden);
            // One that the break only ended was what the frame held.
            let held = |e: &Event| {
                let whole = (r.to - r.from) as f64;
                r.from < e.before && r.to.saturating_sub(e.before) as f64 <= ENDED_SHARE * whole
            };
            !sudden.any(|e| r.from <= e.after && r.to > e.before && !held(e))
        })
        .copied()
        .collect()
}

/// Whether any free run of the balloon was recorded on another rig, with another counter then.
fn other_counter(study: &Study, run: &RunRow) -> bool {
    study
        .tables
        .runs
        .iter()
        .filter(|r| r.kind == RunKind::Free && r.balloon_id == run.balloon_id)
        .any(|r| r.rig != run.rig)
}

/// Takes the points away that say nothing of the frame: after a burst or a slip the balloon no longer stands in it, and after a leak the
/// volume kept out is partly volume lost, so that only an optical diameter still holds.
fn leave_out_after_loss(load: &mut FrameLoad, events: &[Event]) {
    let by_volume = load.waist_length_mm.is_some();
    let mut losses = vec![EventKind::Burst, EventKind::Slip];
    if by_volume {
        losses.push(EventKind::Leak);
    }
    let lost_s = first_of(events, &losses);
    load.points.retain(|p| p.t_s <= lost_s);
}

/// A loss that no event places in time and that the load hangs on: a slip, and where the diameter follows from the volume a burst or a leak.
fn untimed_loss(result: &RunResult, load: &FrameLoad) -> Option<&'static str> {
    let by_volume = load.waist_length_mm.is_some();
    let (kind, word) = match result.outcome {
        Outcome::Slip => (EventKind::Slip, "slip"),
        Outcome::Burst if by_volume => (EventKind::Burst, "burst"),
        Outcome::Leak if by_volume => (EventKind::Leak, "leak"),
        _ => return None,
    };
    first_of(&result.events, &[kind])
        .is_infinite()
        .then_some(word)
}

/// Time of the first event of these kinds, s; infinite where there is none.
fn first_of(events: &[Event], kinds: &[EventKind]) -> f64 {
    let times = events.iter().filter(|e| kinds.contains(&e.kind));
    times.filter_map(|e| e.t_s).fold(f64::INFINITY, f64::min)
}

/// A break in the last part of a rest, as a share of it, does not move its median.
const ENDED_SHARE: f64 = 0.1;

/// Why a frame that broke has no diameter then.
pub(super) const NOT_SEEN: &str = "no camera saw the frame, and the volume in the balloon is not known: a balloon of unknown volume, or volume lost before";

/// Diameter and load of a frame just before it breaks.
fn just_before(input: &LoadInput<'_>, load: &FrameLoad, event: &Event) -> Option<LoadPoint> {
    load.just_before(
        input,
        event.t_s?,
        (event.pressure.value?, event.pressure.u.unwrap_or(0.0)),
        event.volume.value.unwrap_or(f64::NAN),
    )
}

/// Balloon pressure at the onset of yield: the middle of the quasi-static points between which the lines meet, known to the step between them.
/// Others may lie between these in time, with the pressure let down.
fn yield_pressure(
    load: &FrameLoad,
    (lo, hi): (f64, f64),
    trace: &crate::recording::Trace,
) -> Quantity {
    let at = |t_s: f64| load.points.iter().find(|p| p.t_s == t_s);
    let around = at(lo).zip(at(hi));
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
        pressure: yield_pressure(load, (lo, hi), trace),
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
