//! The figures of the frame under load.

use super::frame_under_load::NOT_SEEN;
use super::{Prepared, References, load_budget};
use crate::balloon::{
    FrameLoad, FreeBalloon, LISTED_U_MM, LoadPoint, end_at, line_energy, loop_work,
};
use crate::measure::mechanics;
use crate::recording::{
    BalloonRow, Curve, Event, EventKind, FrameResult, FrameRow, Outcome, Phase, PhaseKind,
    RunResult,
};
use crate::uncertain::{Budget, Budgeted, Component, Quantity, StatedBudget, root_of_variance};

/// Every figure. What needs the load says in its reason why there is none.
pub(super) fn of(
    load: &Result<FrameLoad, String>,
    at_break: Option<&LoadPoint>,
    prepared: &Prepared,
    references: &References,
    free: Option<&FreeBalloon>,
    (frame_row, balloon_row): (Option<&FrameRow>, Option<&BalloonRow>),
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
    let fracture = result.first_fracture().filter(|e| e.t_s.is_some());
    let reason = load.as_ref().err().cloned().unwrap_or_default();
    let missing = |unit: &str| Quantity::missing(unit, reason.clone());
    let mut budgets = Budgets::new();
    let released = energy_released(references, prepared, fracture);
    let loop_work = loop_work_of(prepared, result);
    let mut frame = FrameResult {
        construction: frame_row.and_then(|f| f.construction.clone()),
        peak_pressure,
        peak_over_rated,
        peak_load: missing("kPa"),
        peak_tension: missing("N/mm"),
        peak_force: missing("N"),
        fracture_load: missing("kPa"),
        fracture_tension: missing("N/mm"),
        compliance: missing("mm/kPa"),
        equivalent_modulus: missing("MPa"),
        yield_load: missing("kPa"),
        yield_diameter: missing("mm"),
        offset_yield_load: missing("kPa"),
        offset_yield_diameter: missing("mm"),
        hardening: missing("kPa/mm"),
        hardening_ratio: missing("1"),
        work: missing("mJ"),
        energy_stored: missing("mJ"),
        energy_released: take(&mut budgets, "frame.energy_released", released),
        loop_work: take(&mut budgets, "frame.loop_work", loop_work),
        residual_load: missing("kPa"),
        residual_share: missing("1"),
        residual_diameter: missing("mm"),
        oversize_true_id: take(&mut budgets, "frame.oversize_true_id", true_id),
        oversize_true_id_ratio: take(&mut budgets, "frame.oversize_true_id_ratio", true_id_ratio),
        oversize_stent_id: take(&mut budgets, "frame.oversize_stent_id", stent_id),
        oversize_stent_id_ratio: take(
            &mut budgets,
            "frame.oversize_stent_id_ratio",
            stent_id_ratio,
        ),
        diameter_source: reason.clone(),
        curve: Curve::default(),
        curve_time_s: Vec::new(),
        balloon_rated_kpa: rated,
        budgets: Vec::new(),
    };
    if let Ok(load) = load {
        budgets.extend(load.budgets.iter().cloned());
        fill(&mut frame, load, band, &mut budgets);
        let modulus = equivalent_modulus(&load.compliance, frame_row);
        frame.equivalent_modulus = take(&mut budgets, "frame.equivalent_modulus", modulus);
        let (of_load, of_tension) = at_fracture(at_break, fracture);
        frame.fracture_load = take(&mut budgets, "frame.fracture_load", of_load);
        frame.fracture_tension = take(&mut budgets, "frame.fracture_tension", of_tension);
        let found = residual(&mut frame, load, prepared, fracture, &result.events);
        frame.residual_load = take(&mut budgets, "frame.residual_load", found);
    }
    frame.budgets = budgets;
    frame
}

/// Budgets by the name of a figure.
type Budgets = Vec<(&'static str, StatedBudget)>;

/// The figure, with its budget put down.
fn take(budgets: &mut Budgets, name: &'static str, figure: Budgeted) -> Quantity {
    budgets.extend(figure.stated().map(|stated| (name, stated)));
    figure.quantity
}

fn fill(frame: &mut FrameResult, load: &FrameLoad, band: Option<f64>, budgets: &mut Budgets) {
    frame.diameter_source.clone_from(&load.source);
    frame.compliance = load.compliance.clone();
    frame.yield_load = load.yield_load.clone();
    frame.yield_diameter = load.yield_diameter.clone();
    frame.offset_yield_load = load.offset_yield_load.clone();
    frame.offset_yield_diameter = load.offset_yield_diameter.clone();
    frame.hardening = load.hardening.clone();
    frame.hardening_ratio = load.hardening_ratio.clone();
    frame.work = load.work.clone();
    frame.energy_stored = load.energy_stored.clone();
    let highest = load
        .points
        .iter()
        .max_by(|a, b| a.load_kpa.total_cmp(&b.load_kpa));
    if let Some(peak) = highest {
        peak_figures(frame, peak, band, budgets);
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
        ..Curve::default()
    };
}

/// Load, tension and ring force at the point of the highest load.
fn peak_figures(
    frame: &mut FrameResult,
    peak: &LoadPoint,
    band: Option<f64>,
    budgets: &mut Budgets,
) {
    let load = Budgeted::known(
        peak.load_kpa,
        load_budget::load(peak),
        "kPa",
        "pressure less that of the free balloon at equal diameter",
    );
    frame.peak_load = take(budgets, "frame.peak_load", load);
    let (tension, of_tension) = load_budget::tension(peak);
    let force = band.map_or_else(
        || Budgeted::missing("N", "the band height of the frame is not listed"),
        |band| {
            let mut budget = of_tension.clone();
            for component in &mut budget.components {
                component.sensitivity *= mechanics::ring_force(1.0, band);
            }
            let height = Component::normal("height of the band", LISTED_U_MM);
            Budgeted::known(
                mechanics::ring_force(tension, band),
                budget.with(height.sensitivity(mechanics::ring_force(tension, 1.0))),
                "N",
                "tension times band height: a lower bound, the shoulders of the balloon pull too",
            )
        },
    );
    let tension = Budgeted::known(
        tension,
        of_tension,
        "N/mm",
        "load times half the diameter at the rest of the highest load",
    );
    frame.peak_tension = take(budgets, "frame.peak_tension", tension);
    frame.peak_force = take(budgets, "frame.peak_force", force);
}

/// Load and tension just before the first fracture: what the frame broke at, not what it carried at a rest before.
fn at_fracture(at_break: Option<&LoadPoint>, fracture: Option<&Event>) -> (Budgeted, Budgeted) {
    let Some(point) = at_break else {
        let reason = if fracture.is_some() {
            NOT_SEEN
        } else {
            "no fracture with a time"
        };
        return (
            Budgeted::missing("kPa", reason),
            Budgeted::missing("N/mm", reason),
        );
    };
    let (tension, of_tension) = load_budget::tension(point);
    let load_text = "pressure at the onset of the fracture less that of the free balloon at the diameter just before it";
    let tension_text = "that load times half the diameter just before the fracture";
    if fracture.is_none_or(|event| event.pressure.u.is_none()) {
        let why =
            "the pressure at the fracture has no uncertainty: only a lower bound of it is known";
        return (
            Quantity::without_u(point.load_kpa, "kPa", load_text, why).into(),
            Quantity::without_u(tension, "N/mm", tension_text, why).into(),
        );
    }
    (
        Budgeted::known(point.load_kpa, load_budget::load(point), "kPa", load_text),
        Budgeted::known(tension, of_tension, "N/mm", tension_text),
    )
}

/// Poisson's ratio of metals and polymers, 0.3 to 0.4 (any table of materials, from memory): the middle, and the standard uncertainty of that
/// rectangle. It moves the modulus of a ring by a few per mille.
const POISSON: (f64, f64) = (0.35, 0.05 / 1.732_050_807_568_877_2);

/// What a solid ring of the frame's listed sizes would be made of to comply as the frame does.
fn equivalent_modulus(compliance: &Quantity, row: Option<&FrameRow>) -> Budgeted {
    let missing = |reason: &str| Budgeted::missing("MPa", reason);
    let Some((slope, u_slope)) = compliance.pair() else {
        return missing("the compliance, or its uncertainty, is not known");
    };
    let sizes = row.and_then(|f| Some((f.true_id_mm?, f.outer_diameter_mm?)));
    let Some((inner, outer)) = sizes else {
        return missing("the true inner and the outer diameter of the frame are not listed");
    };
    if outer <= inner {
        return missing(
            "the outer diameter of the frame is listed as no larger than the inner one",
        );
    }
    let at = |inner: f64, outer: f64, poisson: f64| {
        let wall = mechanics::Wall {
            inner_mm: 0.5 * inner,
            outer_mm: 0.5 * outer,
            poisson,
        };
        wall.modulus_mpa(slope)
    };
    let value = at(inner, outer, POISSON.0);
    let by = |name: &str, moved: f64| Component::normal(name, moved - value);
    let budget = Budget::new()
        .with(Component::normal("compliance", u_slope).sensitivity(value / slope))
        .with(by(
            "inner diameter",
            at(inner + LISTED_U_MM, outer, POISSON.0),
        ))
        .with(by(
            "outer diameter",
            at(inner, outer + LISTED_U_MM, POISSON.0),
        ))
        .with(by(
            "Poisson's ratio",
            at(inner, outer, POISSON.0 + POISSON.1),
        ));
    Budgeted::known(
        value,
        budget,
        "MPa",
        "solid ring of the listed inner and outer diameter with open ends (Lamé), from the compliance",
    )
}

/// What the line gives up when a frame snaps: it does that work on balloon and frame, which grow by the volume that it loses.
fn energy_released(
    references: &References,
    prepared: &Prepared,
    fracture: Option<&Event>,
) -> Budgeted {
    let missing = |reason: &str| Budgeted::missing("mJ", reason);
    let Some(line) = &references.line else {
        return missing("no blank run tells what the line holds");
    };
    let Some(event) = fracture else {
        return missing("no fracture with a time");
    };
    let (Some((p1, u1)), Some((drop, u_drop))) = (event.pressure.pair(), event.drop.pair()) else {
        return missing("the pressure of the fracture or its fall is not known");
    };
    let p2 = p1 - drop;
    let given = line_energy(line, p1, p2);
    let energy = given.total();
    // p dV at both ends: an error of the pressure moves both, one of the fall the lower.
    let by_pressure = p1 * line.capacity_ml_per_kpa(p1) - p2 * line.capacity_ml_per_kpa(p2);
    let by_drop = p2 * line.capacity_ml_per_kpa(p2);
    let by_line = root_of_variance(given.variance(line));
    let gain = Component::normal("gain of the volume", prepared.trace.u_volume_rel);
    let budget = Budget::new()
        .with(Component::normal("pressure of the fracture", u1).sensitivity(by_pressure))
        .with(Component::normal("fall of the pressure", u_drop).sensitivity(by_drop))
        .with(Component::normal("compliance and air of the line", by_line))
        .with(gain.sensitivity(energy));
    Budgeted::known(
        energy,
        budget,
        "mJ",
        "pressure over the volume that line and trapped air give up in the fall, at constant temperature: a lower bound of what frame and balloon took, since the balloon gives up energy of its own and what was pumped in meanwhile is left out",
    )
}

/// Work of the loop of pressure and injected volume, from the first stroke up and back to its pressure. Line and air give back what they took.
fn loop_work_of(prepared: &Prepared, result: &RunResult) -> Budgeted {
    let missing = |reason: &str| Budgeted::missing("mJ", reason);
    let trace = &prepared.trace;
    let Some(volume) = &trace.volume_ml else {
        return missing("the recording has no volume channel");
    };
    let lost = [EventKind::Burst, EventKind::Leak];
    if result.events.iter().any(|e| lost.contains(&e.kind))
        || matches!(result.outcome, Outcome::Burst | Outcome::Leak)
    {
        return missing("volume was lost on the way, so that the loop does not close");
    }
    let of = |kind: PhaseKind| move |phase: &&Phase| phase.kind == kind;
    let phases = &prepared.phases;
    let (Some(up), Some(down)) = (
        phases.iter().find(of(PhaseKind::Stroke)),
        phases.iter().rfind(of(PhaseKind::Deflate)),
    ) else {
        return missing("no stroke, or no deflation that closes the loop");
    };
    let pressure = &trace.pressure_kpa;
    let noise = (trace.noise_kpa, trace.noise_ml);
    let found = up.ends.pressure_start_kpa.and_then(|start_kpa| {
        let below = pressure.get(down.start..down.end)?;
        let end = down.start + below.iter().position(|p| *p < start_kpa)?;
        let mut p = pressure.get(up.start..=end)?.to_vec();
        let mut v = volume.get(up.start..=end)?.to_vec();
        end_at(&mut p, &mut v, start_kpa);
        loop_work(&p, &v, noise)
    });
    let Some(found) = found else {
        return missing("the deflation does not come back to the pressure of the first stroke");
    };
    let offset = trace.u_pressure_kpa.hypot(trace.u_zero_at(up.t_start_s));
    let gain = |name: &str, u: f64| Component::normal(name, u).sensitivity(found.work_mj);
    let budget = Budget::new()
        .with(gain("gain of the pressure", trace.u_pressure_rel))
        .with(gain("gain of the volume", trace.u_volume_rel))
        .with(Component::normal("zero of the pressure", offset).sensitivity(found.open_ml))
        .with(Component::normal("noise", found.u_noise_mj))
        .with(Component::normal(
            "straight between samples",
            found.u_step_mj,
        ));
    Budgeted::known(
        found.work_mj,
        budget,
        "mJ",
        "pressure over the injected volume, up and down again to the pressure of the first stroke: what frame, balloon and flow took",
    )
}

/// What a broken frame still carries: load and diameter at the first rest after its first fracture. Puts all but the load down.
fn residual(
    frame: &mut FrameResult,
    load: &FrameLoad,
    prepared: &Prepared,
    fracture: Option<&Event>,
    events: &[Event],
) -> Budgeted {
    let mut missing = |reason: &str| {
        frame.residual_share = Quantity::missing("1", reason);
        frame.residual_diameter = Quantity::missing("mm", reason);
        Budgeted::missing("kPa", reason)
    };
    let Some((event, t_s)) = fracture.and_then(|e| Some((e, e.t_s?))) else {
        return missing("no fracture with a time");
    };
    let rest = prepared
        .rests
        .iter()
        .find(|r| r.t_s > t_s && r.from >= event.after);
    let point = rest.and_then(|r| load.points.iter().find(|p| p.t_s == r.t_s));
    let Some(after) = point else {
        return missing("no rest after the fracture tells the load");
    };
    if events
        .iter()
        .filter_map(|e| e.t_s)
        .any(|t| t > t_s && t <= after.t_s)
    {
        return missing("something else happened before the first rest after the fracture");
    }
    let method = "load at equal diameter at the first rest after the first fracture";
    frame.residual_diameter = Quantity::known(
        after.diameter_mm,
        after.u_diameter_mm,
        "mm",
        "at the first rest after the first fracture",
    );
    frame.residual_share = load
        .points
        .iter()
        .rfind(|p| p.t_s < t_s && p.load_kpa > 0.0)
        .map_or_else(
            || Quantity::missing("1", "no rest before the fracture tells the load"),
            |before| {
                let share = after.load_kpa / before.load_kpa;
                let u = (after.u_load_kpa / before.load_kpa)
                    .hypot(share * before.u_load_kpa / before.load_kpa);
                Quantity::known(
                    share,
                    u,
                    "1",
                    format!("{method}, over that at the last rest before it"),
                )
            },
        );
    Budgeted::known(after.load_kpa, load_budget::load(after), "kPa", method)
}

/// Balloon at the highest pressure less an inner diameter, in mm and as a ratio. The label size is no diameter and is not used.
fn oversize(
    free: Option<&FreeBalloon>,
    peak: &Quantity,
    inner: Option<f64>,
    what: &str,
) -> (Budgeted, Budgeted) {
    let missing = |reason: String| {
        (
            Budgeted::missing("mm", reason.clone()),
            Budgeted::missing("1", reason),
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
            Quantity::without_u(off, "mm", text, why).into(),
            Quantity::without_u(ratio, "1", over, why).into(),
        );
    };
    let slope = curve.at(p + 1.0) - curve.at(p);
    let budget = |times: f64, listed: f64| {
        let part = |name: &str, u: f64, by: f64| Component::normal(name, u).sensitivity(times * by);
        Budget::new()
            .with(part("diameter of the free balloon", curve.u_at(p), 1.0))
            .with(part("highest pressure", u_p, slope))
            .with(part("inner diameter as listed", LISTED_U_MM, listed))
    };
    (
        Budgeted::known(off, budget(1.0, 1.0), "mm", text),
        Budgeted::known(ratio, budget(1.0 / inner, curve.at(p) / inner), "1", over),
    )
}
