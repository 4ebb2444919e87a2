//! `first-look`: the smallest whole study, for a quick try and for quick tests.

use super::parts;
use crate::bench::Plan;
use crate::bench::frame::Construction;
use crate::bench::line::Line;
use crate::bench::plan::RunPlan;

/// The plan.
pub(super) fn plan() -> Plan {
    let frame = |id: &str, construction: Construction, bore: f64, minute: u32| RunPlan {
        frame: Some(parts::frame(
            &format!("FL-{}", id.to_uppercase()),
            construction,
            bore,
            4.6,
        )),
        balloon: Some(0),
        arm: "first".to_owned(),
        outlines: Some(0.0),
        ..parts::run(id, 9 * 3600 + minute * 60, "mio", parts::habit(1350.0))
    };
    Plan {
        name: "first-look".to_owned(),
        title: "A first look: three frames on one balloon".to_owned(),
        seed: 20_250_311,
        day: (2025, 3, 11),
        line: Line {
            compliance_ml_per_kpa: 4.6e-4,
            trapped_air_ml: 0.24,
            ambient_kpa: 101.62,
            resistance_kpa_s_per_ml: 5.0,
            ringing: None,
        },
        hand_stays: 1.0,
        flow_meters: crate::bench::pulse::FlowMeters::default(),
        density_g_per_ml: 1.0,
        bath_degc: 37.0,
        loggers: vec![parts::quay_logger(50.0)],
        balloons: vec![parts::balloon("HB-23", 23.0, 5.0, 16.0)],
        protocol: None,
        settings: Vec::new(),
        runs: vec![
            parts::run("bl1", 8 * 3600, "mio", parts::blank_habit(1750.0)),
            RunPlan {
                balloon: Some(0),
                ..parts::run("fe1", 8 * 3600 + 1500, "mio", parts::habit(1500.0))
            },
            RunPlan {
                flow_eoa_cm2: Some(1.55),
                ..frame("fl1", parts::moulded_ring(45.0), 20.6, 10)
            },
            frame("fl2", parts::solid_stent(), 20.8, 32),
            frame("fl3", parts::stiff_base(), 20.4, 55),
        ],
    }
}
