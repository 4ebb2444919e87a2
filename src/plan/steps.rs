//! The pressures to step through with a balloon in a frame, from the laboratory's own analysis.

use super::earlier::{Earlier, Line, Run};
use super::free::{FreeCurve, line_volume};
use super::refused;
use super::seen::{GroupSeen, waist_at};
use crate::recording::{Finding, suggest};
use crate::uncertain::Quantity;
use crate::units::KPA_PER_ATM;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// Most steps of a table.
const MOST_STEPS: usize = 500;
/// Beyond so many times the rated burst pressure no step is planned: no balloon of a bench has held that.
const MOST_SHARE: f64 = 2.0;
/// True inner diameters of frames, mm: outside, a number is a slip of the pen.
const BORES_MM: std::ops::RangeInclusive<f64> = 5.0..=60.0;

/// What the balloon is set against.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bore {
    /// Which diameter it is: `true inner diameter` or `stent inner diameter`.
    pub what: &'static str,
    /// The diameter, mm.
    pub mm: f64,
    /// Its standard uncertainty, mm; none if it is taken as it stands.
    pub u_mm: Option<f64>,
}

/// What to plan.
#[derive(Debug, Clone, PartialEq)]
pub struct StepsOrder {
    /// Balloon, as its study names it.
    pub balloon_id: String,
    /// What it is set against.
    pub bore: Bore,
    /// Stop where the free balloon has this diameter, mm.
    pub to_diameter_mm: Option<f64>,
    /// From step to step, atm.
    pub step_atm: f64,
    /// Go no further than this share of the rated burst pressure.
    pub most_share_of_rated: f64,
    /// Only frames of this group of the study for what was seen; all if none is named.
    pub group: Option<String>,
}

/// A plan of steps.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Steps {
    /// Title of the study.
    pub study: String,
    /// Balloon.
    pub balloon_id: String,
    /// Where its diameters came from.
    pub diameters_from: String,
    /// Nominal pressure, kPa.
    pub nominal_kpa: f64,
    /// Rated burst pressure, kPa.
    pub rated_kpa: f64,
    /// What the balloon is set against.
    pub bore: Bore,
    /// The steps.
    pub steps: Vec<Step>,
    /// Why the table ends where it does.
    pub ends: String,
    /// What was seen of frames on this balloon, group by group.
    pub seen: Vec<GroupSeen>,
    /// What must hold.
    pub assumptions: Vec<String>,
    /// What it is not.
    pub caution: &'static str,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// Gauge pressure, atm.
    pub pressure_atm: f64,
    /// The same, kPa.
    pub pressure_kpa: f64,
    /// Diameter of the free balloon, mm.
    pub diameter: Quantity,
    /// That less the diameter it is set against, mm.
    pub oversize: Quantity,
    /// The same over it, %.
    pub oversize_percent: Quantity,
    /// Rated burst pressure less this pressure, atm.
    pub margin_atm: f64,
    /// The same over the rated burst pressure, %.
    pub margin_percent: f64,
    /// True above the rated burst pressure.
    pub beyond_rated: bool,
    /// Volume moved since the vent: free balloon and line, mL.
    pub volume: Quantity,
    /// Frames seen on this balloon at this pressure before any break.
    pub waist_seen: Option<WaistSeen>,
    /// Arms whose fractures so far lie about this pressure.
    pub among_fractures_of: Vec<String>,
}

/// How wide frames stood.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WaistSeen {
    /// The narrowest, mm.
    pub lowest_mm: f64,
    /// The widest, mm.
    pub highest_mm: f64,
    /// How many.
    pub frames: usize,
}

const CAUTION: &str = "A plan for the bench only, for items that nobody will be treated with: no advice for a patient, no sizing chart. Local rules, \
the labelling in force and the judgement of licensed practitioners come first. Shield the rig: balloons and frames break without warning.";

/// Plans the steps from results read ([`crate::read::read_results`]); `shown_as` is how messages name them.
///
/// # Errors
/// An error finding where what is asked makes no sense, or the results do not tell the balloon.
pub fn steps(order: &StepsOrder, results: &Value, shown_as: &str) -> Result<Steps, Finding> {
    sound(order)?;
    let earlier = Earlier::of(results, shown_as)?;
    let runs = &earlier.runs;
    let balloon = runs
        .iter()
        .filter(|run| run.balloon_id.as_ref() == Some(&order.balloon_id))
        .filter_map(|run| run.balloon.as_ref())
        .filter(|balloon| !balloon.table.is_empty())
        .max_by(|a, b| {
            FreeCurve::new(a)
                .top_kpa()
                .total_cmp(&FreeCurve::new(b).top_kpa())
        })
        .ok_or_else(|| no_balloon(order, &earlier, shown_as))?;
    let free = FreeCurve::new(balloon);
    let (Some(nominal_kpa), Some(rated_kpa)) = (
        balloon.nominal_pressure_kpa,
        balloon.rated_burst_pressure_kpa,
    ) else {
        return Err(refused(
            "plan-no-labels",
            format!(
                "found no nominal or no rated burst pressure of balloon \"{}\" in {shown_as}; expected both",
                order.balloon_id
            ),
            "fill in nominal_pressure_atm and rated_burst_pressure_atm in balloons.csv and analyse the study again",
        ));
    };
    let frames = frames(order, &earlier)?;
    let lines: Vec<&Line> = runs.iter().filter_map(|run| run.line.as_ref()).collect();
    let seen: Vec<GroupSeen> = frames
        .iter()
        .map(|(group, runs)| GroupSeen::of(group, runs))
        .collect();
    let all: Vec<&Run> = frames.values().flatten().copied().collect();
    let top_kpa = order.most_share_of_rated * rated_kpa;
    let ambient_kpa = earlier.study.ambient_pressure_kpa;
    let mut planned = Vec::new();
    let mut ends = format!(
        "the next step is above {} of the rated burst pressure",
        percent(order.most_share_of_rated)
    );
    for at in 0..MOST_STEPS {
        let pressure_kpa = nominal_kpa + at as f64 * order.step_atm * KPA_PER_ATM;
        // A product such as 0.9 x 16 atm comes out a rounding too low.
        if pressure_kpa > top_kpa * (1.0 + 1e-9) {
            break;
        }
        let diameter = free.diameter(pressure_kpa);
        let Some(d) = diameter.value else {
            let reason = diameter.reason.unwrap_or_default();
            ends = format!("at {:.2} atm: {reason}", pressure_kpa / KPA_PER_ATM);
            break;
        };
        let waists: Vec<f64> = all
            .iter()
            .filter_map(|run| waist_at(run, &free, pressure_kpa))
            .collect();
        planned.push(Step {
            pressure_atm: pressure_kpa / KPA_PER_ATM,
            pressure_kpa,
            oversize: oversize(&diameter, order.bore, false),
            oversize_percent: oversize(&diameter, order.bore, true),
            margin_atm: (rated_kpa - pressure_kpa) / KPA_PER_ATM,
            margin_percent: 100.0 * (rated_kpa - pressure_kpa) / rated_kpa,
            beyond_rated: pressure_kpa > rated_kpa * (1.0 + 1e-9),
            volume: volume(
                &free,
                &line_volume(&lines, ambient_kpa, pressure_kpa),
                pressure_kpa,
            ),
            waist_seen: (!waists.is_empty()).then(|| WaistSeen {
                lowest_mm: waists.iter().copied().fold(f64::INFINITY, f64::min),
                highest_mm: waists.iter().copied().fold(f64::NEG_INFINITY, f64::max),
                frames: waists.len(),
            }),
            among_fractures_of: seen
                .iter()
                .filter(|group| group.holds(pressure_kpa))
                .map(|group| group.group.clone())
                .collect(),
            diameter,
        });
        if order.to_diameter_mm.is_some_and(|to| d >= to) {
            "the diameter asked for is reached".clone_into(&mut ends);
            break;
        }
    }
    let widths = planned.iter().filter_map(|step| step.diameter.value);
    if let Some(widest) = widths.reduce(f64::max).filter(|mm| *mm < order.bore.mm) {
        return Err(refused(
            "plan-too-small",
            format!(
                "found balloon \"{}\" at most {widest:.2} mm wide in these steps ({ends}); expected one wider than the {} of {} mm, or it never touches the frame",
                order.balloon_id, order.bore.what, order.bore.mm
            ),
            "name a wider balloon, or check the diameter of the frame",
        ));
    }
    if let Some(to) = order
        .to_diameter_mm
        .filter(|_| !ends.contains("is reached"))
    {
        ends = format!("the diameter asked for, {to} mm, is not reached: {ends}");
    }
    Ok(Steps {
        study: earlier.study.title.clone(),
        balloon_id: order.balloon_id.clone(),
        diameters_from: free.source().to_owned(),
        nominal_kpa,
        rated_kpa,
        bore: order.bore,
        steps: planned,
        ends,
        seen,
        assumptions: assumptions(order, &free),
        caution: CAUTION,
    })
}

fn percent(share: f64) -> String {
    format!("{} %", (1e4 * share).round() / 1e2)
}

fn sound(order: &StepsOrder) -> Result<(), Finding> {
    let no = |found: String, expected: &str| {
        Err(refused(
            "plan-steps",
            format!("found {found}; expected {expected}"),
            "see `hooptrace plan steps --help`",
        ))
    };
    let bore = order.bore;
    if !BORES_MM.contains(&bore.mm) {
        return no(
            format!("a {} of {} mm", bore.what, bore.mm),
            "5 to 60 mm, measured",
        );
    }
    if bore.u_mm.is_some_and(|u| !(u > 0.0 && u < bore.mm)) {
        return no(
            format!(
                "a standard uncertainty of {} mm",
                bore.u_mm.unwrap_or_default()
            ),
            "one above 0 mm and below the diameter",
        );
    }
    if !(order.step_atm > 0.0 && order.step_atm.is_finite()) {
        return no(
            format!("a step of {} atm", order.step_atm),
            "one above 0 atm",
        );
    }
    if !(order.most_share_of_rated > 0.0 && order.most_share_of_rated <= MOST_SHARE) {
        return no(
            format!(
                "a share of the rated burst pressure of {}",
                order.most_share_of_rated
            ),
            "a share above 0 and at most 2, as 0.9",
        );
    }
    if order
        .to_diameter_mm
        .is_some_and(|to| !BORES_MM.contains(&to))
    {
        return no(
            format!(
                "a diameter of {} mm to go to",
                order.to_diameter_mm.unwrap_or_default()
            ),
            "5 to 60 mm",
        );
    }
    Ok(())
}

fn no_balloon(order: &StepsOrder, earlier: &Earlier, shown_as: &str) -> Finding {
    let mut known: Vec<&str> = earlier
        .runs
        .iter()
        .filter(|run| run.balloon.as_ref().is_some_and(|b| !b.table.is_empty()))
        .filter_map(|run| run.balloon_id.as_deref())
        .collect();
    known.sort_unstable();
    known.dedup();
    let help = match suggest(&order.balloon_id, known.iter().copied()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => "a free run of the balloon, or a chart beside one, tells its diameters".to_owned(),
    };
    refused(
        "plan-no-balloon",
        format!(
            "found no free run with diameters of balloon \"{}\" in {shown_as}; expected one of: {}",
            order.balloon_id,
            if known.is_empty() {
                "(none is there)".to_owned()
            } else {
                known.join(", ")
            }
        ),
        &help,
    )
}

/// The frame runs on this balloon that count, by group of the study.
fn frames<'r>(
    order: &StepsOrder,
    earlier: &'r Earlier,
) -> Result<BTreeMap<String, Vec<&'r Run>>, Finding> {
    let mut groups: BTreeMap<String, Vec<&Run>> = BTreeMap::new();
    for run in earlier.runs.iter().filter(|run| {
        run.kind == "frame"
            && run.outcome != "invalid"
            && run.balloon_id.as_ref() == Some(&order.balloon_id)
    }) {
        let group = earlier.group_of(run).to_owned();
        groups.entry(group).or_default().push(run);
    }
    if let Some(wanted) = &order.group {
        if !groups.contains_key(wanted) {
            let known: Vec<&str> = groups.keys().map(String::as_str).collect();
            return Err(refused(
                "plan-no-group",
                format!(
                    "found no frame run of group \"{wanted}\" on balloon \"{}\"; expected one of: {}",
                    order.balloon_id,
                    known.join(", ")
                ),
                "leave --group out to see every group",
            ));
        }
        groups.retain(|group, _| group == wanted);
    }
    Ok(groups)
}

/// The balloon less the bore, mm, or over it in %.
fn oversize(diameter: &Quantity, bore: Bore, relative: bool) -> Quantity {
    let unit = if relative { "%" } else { "mm" };
    let method = format!("free balloon less {}", bore.what);
    let Some(d) = diameter.value else {
        let reason = diameter.reason.clone().unwrap_or_default();
        return Quantity::missing(unit, reason);
    };
    let u_bore = bore.u_mm.unwrap_or(0.0);
    // Of the ratio D/B - 1: u(D)/B and D u(B)/B^2.
    let (value, u) = if relative {
        let u = |u: f64| 100.0 * (u / bore.mm).hypot(d * u_bore / bore.mm.powi(2));
        (100.0 * (d / bore.mm - 1.0), diameter.u.map(u))
    } else {
        (d - bore.mm, diameter.u.map(|u| u.hypot(u_bore)))
    };
    if let Some(u) = u {
        return Quantity::known(value, u, unit, method);
    }
    let reason = diameter.reason.clone().unwrap_or_default();
    Quantity::without_u(value, unit, method, reason)
}

fn volume(free: &FreeCurve<'_>, line: &Quantity, pressure_kpa: f64) -> Quantity {
    match (free.volume_ml(pressure_kpa), line.value) {
        (Some(balloon), Some(line)) => Quantity::without_u(
            balloon + line,
            "mL",
            "free balloon and line; in a frame less, by what its waist keeps out",
            "the results give the volumes of the free balloon without an uncertainty",
        ),
        (None, _) => Quantity::missing(
            "mL",
            "no volume of the free balloon is known at this pressure",
        ),
        (_, None) => Quantity::missing("mL", line.reason.clone().unwrap_or_default()),
    }
}

fn assumptions(order: &StepsOrder, free: &FreeCurve<'_>) -> Vec<String> {
    let mut all = vec![
        "diameters are those of the free balloon of the analysis, after its first inflation; a balloon of another lot, or in a frame, is narrower or wider".to_owned(),
        "pressures are gauge pressures held at rest, as the analysed recorder measured them; a dial may differ".to_owned(),
        "fracture pressures seen hold for frames and sizes like those of the analysis, on this balloon, and are no limit of what may break".to_owned(),
    ];
    if free.is_chart() {
        all.push(
            "the diameters are the maker's chart; nobody measured them on this balloon".to_owned(),
        );
    }
    if order.bore.u_mm.is_none() {
        all.push(format!(
            "the {} is taken as it stands: its uncertainty is in no number here (--u-id)",
            order.bore.what
        ));
    }
    all
}
