//! Yield: by change point and by offset, and how the frame hardens after it.

use super::elastic::{COMMON, GAIN, compliance, elastic_line};
use super::{LoadInput, LoadPoint, Moved};
use crate::fit::{BrokenLine, Line, broken_line};
use crate::uncertain::{Budget, Budgeted, Component, widened};

/// Parameters of a broken line.
const PARAMETERS: usize = 4;
/// Fewest points of a yield onset, less two.
const FEWEST: usize = 5;
/// A yield onset needs a slope of diameter on load before it of so many of its standard uncertainties: where scatter hides how the frame
/// opens, any bend looks like yield.
const SLOPE_SIGMAS: f64 = 2.0;
/// ... and that slope to grow at least so many times.
const YIELD_SLOPE_RATIO: f64 = 1.8;
/// ... and the broken line to fit better than a straight one by so much (an F value of two parameters, with a margin).
const YIELD_IMPROVEMENT: f64 = 12.0;
/// ... and the frame to be wider at the highest load than its elastic line says, by at least so much of what the offset method asks for: bends
/// below that are seating and scatter.
const YIELD_OPENS_OF_OFFSET: f64 = 0.5;

/// What the rest next to a yield errs by, in a budget.
const POINT: &str = "the rest after it";

/// What the points say of yield.
pub(super) struct Said {
    pub compliance: Budgeted,
    pub load: Budgeted,
    pub diameter: Budgeted,
    pub time: Option<(f64, f64, f64)>,
    pub offset_load: Budgeted,
    pub offset_diameter: Budgeted,
    pub hardening: Budgeted,
    pub hardening_ratio: Budgeted,
    pub elastic_end: f64,
}

/// The points up to that of the highest load: what comes after it, where a frame gives way faster than the pressure rises, is on no line.
pub fn up_to_highest_load(points: &[LoadPoint]) -> &[LoadPoint] {
    let highest = points
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.load_kpa.total_cmp(&b.1.load_kpa));
    highest
        .and_then(|(at, _)| points.get(..=at))
        .unwrap_or(points)
}

/// The broken line of diameter (mm) on load (kPa) up to the highest load, where a break stands out; its uncertainties are widened for few
/// points. `offset_share`: opening of the offset method, as a share of the diameter.
pub fn yield_break(points: &[LoadPoint], offset_share: f64) -> Option<BrokenLine> {
    let points = up_to_highest_load(points);
    if points.len() < FEWEST + 2 {
        return None;
    }
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().map(|p| (p.load_kpa, p.diameter_mm)).unzip();
    let top = x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let found = broken_line(&x, &y).ok().filter(|b| {
        let opens = (b.slope_right - b.slope_left) * (top - b.x_break);
        opens >= YIELD_OPENS_OF_OFFSET * offset_share * b.y_break
            && b.slope_left > SLOPE_SIGMAS * b.u_slopes.0
            && b.slope_right >= YIELD_SLOPE_RATIO * b.slope_left
            && b.improvement >= YIELD_IMPROVEMENT
    })?;
    let dof = (points.len() - PARAMETERS) as f64;
    // Points that lie on the lines by chance still err by themselves.
    let sd = widened(dof) * (found.sum_of_squares / dof).sqrt();
    let own = points.iter().map(|p| p.own_mm.powi(2)).sum::<f64>() / points.len() as f64;
    let wider = widened(dof) * (own.sqrt() / sd).max(1.0);
    Some(BrokenLine {
        u_break: found.u_break * wider,
        u_slopes: (found.u_slopes.0 * wider, found.u_slopes.1 * wider),
        ..found
    })
}

/// Load up to which the frame is elastic, kPa; infinite where no yield stands out.
pub(super) fn elastic_end(points: &[LoadPoint], offset_share: f64) -> f64 {
    yield_break(points, offset_share).map_or(f64::INFINITY, |b| b.x_break)
}

impl Said {
    pub fn of(input: &LoadInput<'_>, moved: &Moved, points: &[LoadPoint]) -> Self {
        let broken = |points: &[LoadPoint]| yield_break(points, input.yield_offset_share);
        // A break that is gone where an input is off by its standard uncertainty is none.
        let stands = |b: &BrokenLine| moved.spread(&|p| Some(broken(p)?.x_break - b.x_break));
        let onset = broken(points)
            .filter(|b| stands(b).is_finite())
            .and_then(|b| Some((b, place(points, &b)?)));
        let elastic_end = onset.as_ref().map_or(f64::INFINITY, |(b, _)| b.x_break);
        let compliance = compliance(input, moved, points, elastic_end);
        let (offset_load, offset_diameter) = by_offset(input, moved, points, elastic_end);
        let reason = "no break in the curve of diameter on load stands out";
        let Some((b, at)) = onset else {
            return Self {
                compliance,
                load: Budgeted::missing("kPa", reason),
                diameter: Budgeted::missing("mm", reason),
                time: None,
                offset_load,
                offset_diameter,
                hardening: Budgeted::missing("kPa/mm", reason),
                hardening_ratio: Budgeted::missing("1", reason),
                elastic_end,
            };
        };
        let common =
            |figure: &dyn Fn(&BrokenLine) -> f64| moved.spread(&|p| Some(figure(&broken(p)?)));
        let u_break = if b.u_break.is_finite() {
            b.u_break
        } else {
            (at.after.load_kpa - at.before.load_kpa) / 12.0_f64.sqrt()
        };
        // So do the two about a break.
        let own = at.before.own_mm.hypot(at.after.own_mm) / (b.slope_right - b.slope_left);
        let u_break = u_break.max(own);
        let place = Component::normal("place of the break", u_break);
        let of_load = Budget::new()
            .with(Component::normal(POINT, at.after.u_load_kpa))
            .with(place.clone())
            .with(Component::normal(COMMON, common(&|b| b.x_break)));
        // A break placed too late lies on the line of the yielding frame.
        let of_diameter = Budget::new()
            .with(Component::normal(POINT, at.after.u_diameter_mm))
            .with(place.sensitivity(b.slope_right));
        let hardening = 1.0 / b.slope_right;
        let slope =
            |name: &str, u: f64| Component::normal(name, u).sensitivity(hardening / b.slope_right);
        let gain = Component::normal(GAIN, input.trace.u_pressure_rel);
        let of_hardening = Budget::new()
            .with(slope("scatter about the line after", b.u_slopes.1))
            .with(slope(COMMON, common(&|b| b.slope_right)))
            .with(gain.sensitivity(hardening));
        let ratio = b.slope_left / b.slope_right;
        let side =
            |name: &str, u: f64, slope: f64| Component::normal(name, u).sensitivity(ratio / slope);
        let of_ratio = Budget::new()
            .with(side(
                "scatter about the line before",
                b.u_slopes.0,
                b.slope_left,
            ))
            .with(side(
                "scatter about the line after",
                b.u_slopes.1,
                b.slope_right,
            ))
            .with(Component::normal(
                COMMON,
                common(&|b| b.slope_left / b.slope_right),
            ));
        Self {
            compliance,
            load: Budgeted::known(
                b.x_break,
                of_load,
                "kPa",
                "break of two straight lines, diameter on load",
            ),
            diameter: Budgeted::known(
                b.y_break,
                of_diameter,
                "mm",
                "diameter where the lines meet",
            ),
            time: Some(at.time),
            offset_load,
            offset_diameter,
            hardening: Budgeted::known(
                hardening,
                of_hardening,
                "kPa/mm",
                "slope of the load on the diameter after the break of the two lines",
            ),
            hardening_ratio: Budgeted::known(
                ratio,
                of_ratio,
                "1",
                "slope after the break of the two lines over that before it",
            ),
            elastic_end,
        }
    }
}

struct Place {
    before: LoadPoint,
    after: LoadPoint,
    time: (f64, f64, f64),
}

/// Between which points a break lies.
fn place(points: &[LoadPoint], b: &BrokenLine) -> Option<Place> {
    let after = points.iter().position(|p| p.load_kpa > b.x_break)?;
    let (a, z) = (*points.get(after.checked_sub(1)?)?, *points.get(after)?);
    let share = ((b.x_break - a.load_kpa) / (z.load_kpa - a.load_kpa)).clamp(0.0, 1.0);
    Some(Place {
        before: a,
        after: z,
        time: (a.t_s + share * (z.t_s - a.t_s), a.t_s, z.t_s),
    })
}

/// Where the curve of diameter on load crosses the elastic line moved to larger diameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffsetYield {
    /// Load there, kPa.
    pub load_kpa: f64,
    /// Diameter there, mm.
    pub diameter_mm: f64,
    /// How far the curve runs off the moved line for a rise of the load, mm/kPa: what an error of a diameter is worth in load.
    pub crossing: f64,
}

/// The last crossing of the points (straight between them) with the elastic line moved by an opening (mm) that stays: scatter at low loads is
/// no yield. `None` where they never cross it.
pub fn offset_yield(points: &[LoadPoint], elastic: &Line, offset_mm: f64) -> Option<OffsetYield> {
    let off = |p: &LoadPoint| p.diameter_mm - elastic.at(p.load_kpa) - offset_mm;
    points.windows(2).rev().find_map(|pair| {
        let [a, b] = pair else { return None };
        let (below, above) = (off(a), off(b));
        if !(below < 0.0 && above >= 0.0) {
            return None;
        }
        let share = -below / (above - below);
        Some(OffsetYield {
            load_kpa: a.load_kpa + share * (b.load_kpa - a.load_kpa),
            diameter_mm: a.diameter_mm + share * (b.diameter_mm - a.diameter_mm),
            crossing: (above - below) / (b.load_kpa - a.load_kpa),
        })
    })
}

/// The same with the elastic line of the points.
pub(super) fn crossing(
    points: &[LoadPoint],
    elastic_end: f64,
    offset_mm: f64,
) -> Option<OffsetYield> {
    offset_yield(points, &elastic_line(points, elastic_end).ok()?, offset_mm)
}

fn by_offset(
    input: &LoadInput<'_>,
    moved: &Moved,
    points: &[LoadPoint],
    elastic_end: f64,
) -> (Budgeted, Budgeted) {
    let missing = |reason: &str| {
        (
            Budgeted::missing("kPa", reason),
            Budgeted::missing("mm", reason),
        )
    };
    let Some((before, _)) = input.before else {
        return missing("the offset is a share of the diameter before, which nobody measured");
    };
    let line = match elastic_line(points, elastic_end) {
        Ok(line) => line,
        Err(why) => return missing(&format!("no elastic line to move: {why}")),
    };
    let offset = input.yield_offset_share * before;
    let crossing = |points: &[LoadPoint]| crossing(points, elastic_end, offset);
    let Some(found) = crossing(points) else {
        return missing("the load curve never leaves the elastic line by the offset");
    };
    let Some(at) = points.iter().find(|p| p.load_kpa >= found.load_kpa) else {
        return missing("the load curve never leaves the elastic line by the offset");
    };
    // Scatter of a diameter about the curve and of the line drawn on, as a load and as a diameter.
    let scatter = line.sd.hypot(line.u_at(found.load_kpa));
    let scatter = Component::normal("scatter about curve and line", scatter);
    let common = moved.spread(&|p| Some(crossing(p)?.load_kpa));
    let of_load = Budget::new()
        .with(Component::normal(POINT, at.u_load_kpa))
        .with(scatter.clone().sensitivity(1.0 / found.crossing))
        .with(Component::normal(COMMON, common));
    let along = line.slope + found.crossing;
    let of_diameter = Budget::new()
        .with(Component::normal(POINT, at.u_diameter_mm))
        .with(scatter.sensitivity(along / found.crossing));
    let text = format!(
        "crossing with the elastic line moved by {} % of the diameter before",
        100.0 * input.yield_offset_share
    );
    (
        Budgeted::known(found.load_kpa, of_load, "kPa", text.clone()),
        Budgeted::known(found.diameter_mm, of_diameter, "mm", text),
    )
}
