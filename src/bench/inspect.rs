//! What is measured on the frame of a run: calipers, plugs, outlines, flow, and what else is seen.

use super::gauge::{OPERATOR_SPREAD_MM, Outline};
use super::plan::{Plan, RunPlan};
use super::pulse::Valve;
use super::run::Course;
use super::tables::{
    CALIPER_HEAD, CONTOUR_HEAD, FLOW_HEAD, OBSERVATION_HEAD, contour_rows, flow_rows,
};
use super::truth::{TrueFlow, TrueOutline};
use crate::uncertain::Draws;
use std::collections::BTreeMap;
use std::f64::consts::{FRAC_PI_4, TAU};
use std::fmt::Write as _;

/// Directions in which calipers are set, degrees.
const ORIENTATIONS_DEG: [f64; 3] = [15.0, 75.0, 135.0];
/// Readings in each direction.
const REPEATS: usize = 2;

/// The measuring tables of a study as they grow.
#[derive(Debug, Clone)]
pub struct Sheets {
    /// `calipers.csv`.
    pub calipers: String,
    /// `contours.csv`.
    pub contours: String,
    /// `flow.csv`.
    pub flow: String,
    /// `observations.csv`.
    pub observations: String,
}

impl Default for Sheets {
    fn default() -> Self {
        Self {
            calipers: CALIPER_HEAD.to_owned(),
            contours: CONTOUR_HEAD.to_owned(),
            flow: FLOW_HEAD.to_owned(),
            observations: OBSERVATION_HEAD.to_owned(),
        }
    }
}

/// Bias of an operator's caliper readings, mm: the same in every run of a plan.
pub fn operator_bias(seed: u64, operator: &str) -> f64 {
    OPERATOR_SPREAD_MM * Draws::new(seed, &format!("operator {operator}")).normal()
}

/// The frame's inner edge before, loaded and after a run.
///
/// A whole frame is nearly round; a broken ring is pushed into three lobes by its posts, the more the wider it opened.
pub fn edges(
    before_mm: f64,
    loaded_mm: Option<f64>,
    after_mm: f64,
    broken: usize,
    draws: &mut Draws,
) -> Vec<(&'static str, Outline)> {
    let outline = |diameter: f64, oval: f64, lobes: f64, draws: &mut Draws| Outline {
        radius_mm: 0.5 * diameter,
        oval_mm: oval,
        oval_at: draws.between(0.0, TAU),
        lobes_mm: lobes,
        lobes_at: draws.between(0.0, TAU),
    };
    let oval = draws.between(0.02, 0.06);
    let lobes = draws.between(0.02, 0.05);
    let mut stages = vec![("before", outline(before_mm, oval, lobes, draws))];
    if let Some(loaded) = loaded_mm {
        stages.push(("loaded", outline(loaded, 0.02, 0.02, draws)));
    }
    let after = if broken > 0 {
        let open = 0.15 + 0.12 * (after_mm - before_mm).max(0.0);
        outline(after_mm, 1.5 * oval, open * draws.between(0.9, 1.3), draws)
    } else {
        outline(after_mm, oval, lobes, draws)
    };
    stages.push(("after", after));
    stages
}

/// Read calipers and plugs and trace outlines.
pub fn gauge(
    sheets: &mut Sheets,
    plan: &Plan,
    run: &RunPlan,
    edges: &[(&'static str, Outline)],
) -> BTreeMap<&'static str, TrueOutline> {
    let mut draws = Draws::new(plan.seed, &format!("{}: gauges", run.id));
    let stays = operator_bias(plan.seed, &run.operator) * plan.hand_stays.sqrt();
    let mut setting_up = Draws::new(plan.seed, &format!("{}: setting up", run.id));
    let mut truths = BTreeMap::new();
    for (stage, edge) in edges {
        truths.insert(*stage, TrueOutline::from(edge));
        let this_time = OPERATOR_SPREAD_MM * setting_up.normal();
        let bias = stays + (1.0 - plan.hand_stays).sqrt() * this_time;
        for deg in ORIENTATIONS_DEG {
            for repeat in 1..=REPEATS {
                let value = edge.caliper(deg, bias, &mut draws);
                // Writing into a String cannot fail (here and below).
                let _ = writeln!(
                    sheets.calipers,
                    "{},{stage},caliper,{deg},{repeat},{},{value:.2},mm",
                    run.id, run.operator
                );
            }
        }
        // The balloon fills the loaded frame: no plug passes and no camera sees through.
        if *stage == "loaded" {
            continue;
        }
        if run.plugs {
            let plug = edge.plug();
            let _ = writeln!(
                sheets.calipers,
                "{},{stage},plug,,1,{},{plug:.1},mm",
                run.id, run.operator
            );
        }
        if let Some(scale) = run.outlines {
            let points = edge.trace(&mut draws);
            contour_rows(&mut sheets.contours, &run.id, stage, &points, scale);
        }
    }
    truths
}

/// Record flow before and after; the jet grows with the geometric area.
pub fn flow(
    sheets: &mut Sheets,
    plan: &Plan,
    run: &RunPlan,
    before_mm: f64,
    after_mm: f64,
) -> BTreeMap<&'static str, TrueFlow> {
    let mut truths = BTreeMap::new();
    let Some(jet_before) = run.flow_eoa_cm2 else {
        return truths;
    };
    let mut draws = Draws::new(plan.seed, &format!("{}: flow", run.id));
    let after = jet_before * (after_mm / before_mm).powi(2);
    for (stage, jet_cm2) in [("before", jet_before), ("after", after)] {
        let valve = Valve {
            jet_cm2,
            density: plan.density_g_per_ml,
        };
        let (eoa_cm2, mean_gradient_mmhg) = valve.truth();
        let (stroke_volume_ml, regurgitant_percent) = Valve::true_volumes();
        truths.insert(
            stage,
            TrueFlow {
                eoa_cm2,
                mean_gradient_mmhg,
                stroke_volume_ml,
                regurgitant_percent,
            },
        );
        flow_rows(
            &mut sheets.flow,
            &run.id,
            stage,
            &valve.record(plan.flow_meters, &mut draws),
        );
    }
    truths
}

/// Write down what else was seen.
pub fn observe(sheets: &mut Sheets, plan: &Plan, run: &RunPlan, course: &Course) {
    let Some(ring) = &course.specimen.ring else {
        return;
    };
    let mut draws = Draws::new(plan.seed, &format!("{}: observations", run.id));
    let mut line = |what: &str, value: &str, unit: &str| {
        let _ = writeln!(
            sheets.observations,
            "{},after,{what},{value},{unit},{}",
            run.id, run.operator
        );
    };
    let wall = draws.between(0.2, 0.9);
    let shift = draws.between(0.0, 0.4);
    if ring.broken > 0 {
        // Neutral arc conserved: the gap is what the perimeter gained.
        let gap = std::f64::consts::PI * (ring.unloaded_bore_mm() - ring.first_bore_mm);
        line("gap of the broken ring", &format!("{gap:.1}"), "mm");
        let debris = if draws.unit() < 0.3 { "yes" } else { "no" };
        line("captured debris", debris, "");
    } else if course.specimen.slipping_s.is_some() {
        line("shift of the balloon", "6", "mm");
    } else {
        line("shift of the inner valve", &format!("{shift:.1}"), "mm");
    }
    if ring.unloaded_bore_mm() - ring.first_bore_mm > 0.5 {
        line("wall clearance", &format!("{wall:.1}"), "mm");
        let grade = if shift > 0.2 { "mild" } else { "none" };
        line("leaflet grade", grade, "");
    }
}

/// Geometric area of a circle, mm².
pub fn circle(diameter_mm: f64) -> f64 {
    FRAC_PI_4 * diameter_mm * diameter_mm
}
