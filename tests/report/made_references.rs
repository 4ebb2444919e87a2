//! Made-up blank and free runs.

use crate::made_up::{ATM, Made, bare, info, q, staircase};
use crate::noise::Noise;
use hooptrace::plot::RunContext;
use hooptrace::recording::*;
use hooptrace::uncertain::Quantity;

pub fn blank_run() -> (RunResult, Made) {
    let mut made = staircase(91, 7, 1e9);
    let p: Vec<f64> = (0..80).map(|i| 20.0 * f64::from(i)).collect();
    let law = |p: f64| 0.000_2 * p + 0.5 * p / (p + 101.0);
    made.trace.diameter_mm = None;
    let mut noise = Noise(5);
    made.trace.volume_ml = Some(
        made.trace
            .pressure_kpa
            .iter()
            .map(|p| law(p.max(0.0)) + 0.03 * noise.next())
            .collect(),
    );
    let mut run = bare("blank-1", RunKind::Blank, Outcome::Reference);
    run.line = Some(LineResult {
        compliance: q(0.000_2, 0.000_008, "mL/kPa"),
        trapped_air: q(0.5, 0.02, "mL"),
        dead_volume: q(0.03, 0.004, "mL"),
        air: "much air".to_owned(),
        air_share: q(0.69, 0.01, "1"),
        down: LineDown {
            hysteresis: q(0.012, 0.006, "mL"),
            compliance: Quantity::missing("mL/kPa", "a made-up reason"),
            trapped_air: Quantity::missing("mL", "a made-up reason"),
        },
        residual_ml: 0.009,
        budgets: Vec::new(),
        by_trials: Vec::new(),
        curve: Curve {
            volume_ml: p.iter().map(|p| law(*p)).collect(),
            pressure_kpa: p,
            ..Curve::default()
        },
    });
    "A blank run measures the line.".clone_into(&mut run.outcome_reason);
    run.phases.clone_from(&made.phases);
    run.recording = info(&made);
    (run, made)
}

pub fn free_run() -> (RunResult, Made) {
    let made = staircase(92, 6, 1e9);
    let p: Vec<f64> = (0..60).map(|i| 22.0 * f64::from(i)).collect();
    let mut run = bare("free-1", RunKind::Free, Outcome::Reference);
    run.balloon_id = Some("B-20".to_owned());
    run.balloon = Some(BalloonResult {
        budgets: Vec::new(),
        by_trials: Vec::new(),
        model: "straight line with a foot".to_owned(),
        models: [Some((0.0, 0.9)), Some((4.394, 0.1)), None]
            .map(|ranked| ModelRank {
                model: "a made-up curve".to_owned(),
                delta_aicc: ranked.map(|r| r.0),
                weight: ranked.map(|r| r.1),
                reason: ranked
                    .is_none()
                    .then(|| "too few made-up points".to_owned()),
            })
            .to_vec(),
        source: "optical".to_owned(),
        unfolded_diameter: q(19.6, 0.05, "mm"),
        nominal_pressure_kpa: Some(405.3),
        rated_burst_pressure_kpa: Some(709.275),
        diameter_at_nominal: q(20.02, 0.04, "mm"),
        diameter_at_rated: q(20.21, 0.04, "mm"),
        compliance: q(0.000_62, 0.000_05, "mm/kPa"),
        growth_per_atm: q(0.31, 0.03, "%/atm"),
        kind: "non-compliant".to_owned(),
        table: vec![GrowthRow {
            pressure_kpa: 405.3,
            diameter: q(20.02, 0.04, "mm"),
            growth: q(0.0, 0.000_1, "1"),
            beyond_rated: false,
        }],
        curve: Curve {
            diameter_mm: p.iter().map(|p| 19.6 + 0.001 * p).collect(),
            volume_ml: p.iter().map(|p| 13.6 + 0.0008 * p).collect(),
            pressure_kpa: p,
            ..Curve::default()
        },
    });
    "A free inflation measures the balloon.".clone_into(&mut run.outcome_reason);
    run.phases.clone_from(&made.phases);
    run.recording = info(&made);
    (run, made)
}

/// Context of every run of the study.
pub fn context(blank: &RunResult, free: &RunResult) -> RunContext {
    RunContext {
        line: blank.line.as_ref().map(|l| l.curve.clone()),
        free_balloon: free.balloon.as_ref().map(|b| b.curve.clone()),
        ambient_kpa: 100.9,
        frame: Some(FrameRow {
            frame_id: "FR-01".to_owned(),
            construction: Some("metal ring, sewn".to_owned()),
            label_size_mm: Some(21.0),
            true_id_mm: Some(19.0),
            stent_id_mm: Some(20.0),
            outer_diameter_mm: Some(25.0),
            band_height_mm: Some(4.0),
        }),
        balloon: Some(BalloonRow {
            balloon_id: "B-20".to_owned(),
            nominal_diameter_mm: Some(20.0),
            working_length_mm: Some(40.0),
            nominal_pressure_kpa: Some(3.0 * ATM),
            rated_burst_pressure_kpa: Some(6.0 * ATM),
            lot: Some("L-7".to_owned()),
        }),
    }
}
