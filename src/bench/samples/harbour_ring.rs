//! `harbour-ring`: two arms, two recorders, every outcome, and the traps of a working day.

use super::parts;
use crate::bench::Plan;
use crate::bench::frame::Construction;
use crate::bench::line::Line;
use crate::bench::operator::{Habit, Interlude};
use crate::bench::plan::{InspectionNote, RunPlan};
use crate::bench::recorder::Fault;
use crate::bench::solver::{Seat, WeakSpot};

/// Number of the recorder with the camera.
const QUAY: usize = 0;
/// Number of the older recorder.
const PIER: usize = 1;

/// What the laboratory wrote down before the runs.
const PROTOCOL: &str = include_str!("harbour_ring_protocol.toml");

/// The plan.
pub(super) fn plan() -> Plan {
    let mut runs = references();
    runs.extend(moulded());
    runs.extend(metal());
    for (n, run) in (0_u32..).zip(runs.iter_mut()) {
        run.start_s = 8 * 3600 + 12 * 60 + n * 1560;
    }
    Plan {
        name: "harbour-ring".to_owned(),
        title: "Harbour ring study: moulded and metal frames to fracture".to_owned(),
        seed: 20_250_408,
        day: (2025, 4, 8),
        line: Line {
            compliance_ml_per_kpa: 4.4e-4,
            trapped_air_ml: 0.32,
            ambient_kpa: 100.94,
            resistance_kpa_s_per_ml: 5.0,
            ringing: None,
        },
        hand_stays: 1.0,
        flow_meters: crate::bench::pulse::FlowMeters::default(),
        density_g_per_ml: 1.004,
        bath_degc: 36.8,
        loggers: vec![parts::quay_logger(100.0), parts::pier_logger()],
        balloons: vec![
            parts::balloon("HB-23", 23.0, 5.0, 16.0),
            parts::balloon("HB-25", 25.0, 5.0, 15.0),
        ],
        protocol: Some(PROTOCOL),
        settings: Vec::new(),
        runs,
    }
}

fn references() -> Vec<RunPlan> {
    let free = |id: &str, operator: &str, balloon, logger| RunPlan {
        balloon: Some(balloon),
        logger,
        ..parts::run(id, 0, operator, parts::habit(1550.0))
    };
    vec![
        parts::run("bl1", 0, "ada", parts::blank_habit(1800.0)),
        RunPlan {
            logger: PIER,
            ..parts::run("bl2", 0, "ben", parts::blank_habit(1800.0))
        },
        free("fe1", "ada", 0, QUAY),
        free("fe2", "ben", 1, QUAY),
    ]
}

/// A frame run of the moulded arm on the smaller balloon.
fn moulded_run(id: &str, logger: usize, ring: Construction, bore: f64, habit: Habit) -> RunPlan {
    RunPlan {
        frame: Some(parts::frame(
            &format!("M-{}", id.to_uppercase()),
            ring,
            bore,
            4.6,
        )),
        balloon: Some(0),
        arm: "moulded".to_owned(),
        logger,
        seat: parts::seat(5.2),
        ..parts::run(id, 0, if logger == QUAY { "ada" } else { "ben" }, habit)
    }
}

fn moulded() -> Vec<RunPlan> {
    let habit = || parts::habit(1300.0);
    vec![
        RunPlan {
            outlines: Some(0.0),
            flow_eoa_cm2: Some(1.52),
            ..moulded_run("hr01", QUAY, parts::moulded_ring(46.0), 20.6, habit())
        },
        RunPlan {
            note: "refill after the fourth stroke".to_owned(),
            ..moulded_run(
                "hr02",
                QUAY,
                parts::moulded_ring(49.0),
                20.5,
                Habit {
                    interludes: vec![(4, Interlude::Refill(1.5))],
                    ..habit()
                },
            )
        },
        RunPlan {
            inspection: InspectionNote::Missing,
            ..moulded_run("hr03", PIER, parts::moulded_ring(43.0), 20.7, habit())
        },
        RunPlan {
            outlines: Some(0.05),
            note: "two bangs".to_owned(),
            ..moulded_run(
                "hr04",
                QUAY,
                parts::moulded_double(44.0, 51.0),
                20.6,
                Habit {
                    strokes_after_event: 6,
                    ..habit()
                },
            )
        },
        moulded_run(
            "hr05",
            PIER,
            parts::moulded_ring(47.5),
            20.5,
            Habit {
                stroke_ml: 0.16,
                target_kpa: 840.0,
                last_hold_s: 14.0,
                ..habit()
            },
        ),
        RunPlan {
            burst_kpa: Some(655.0),
            ..moulded_run("hr06", QUAY, parts::moulded_ring(52.0), 20.6, habit())
        },
        RunPlan {
            seat: Seat {
                off_centre: 1.0,
                fixture_n: 38.0,
                ..parts::seat(5.2)
            },
            ..moulded_run("hr07", PIER, parts::moulded_ring(56.0), 20.4, habit())
        },
    ]
}

/// A frame run of the metal arm.
fn metal_run(
    id: &str,
    logger: usize,
    balloon: usize,
    ring: Construction,
    bore: f64,
    contact: f64,
) -> RunPlan {
    RunPlan {
        frame: Some(parts::frame(
            &format!("S-{}", id.to_uppercase()),
            ring,
            bore,
            contact - 0.6,
        )),
        balloon: Some(balloon),
        arm: "metal".to_owned(),
        logger,
        seat: parts::seat(contact),
        ..parts::run(
            id,
            0,
            if logger == QUAY { "cleo" } else { "ben" },
            parts::habit(1600.0),
        )
    }
}

fn metal() -> Vec<RunPlan> {
    let with = |interludes| Habit {
        interludes,
        ..parts::habit(1600.0)
    };
    vec![
        RunPlan {
            outlines: Some(0.0),
            flow_eoa_cm2: Some(1.81),
            ..metal_run("hr08", QUAY, 1, parts::banded_stent(60.0), 21.9, 4.6)
        },
        RunPlan {
            habit: with(vec![(5, Interlude::Pause(7.0))]),
            faults: vec![Fault::Gap {
                from_s: 24.0,
                seconds: 1.3,
            }],
            ..metal_run("hr09", PIER, 1, parts::banded_stent(64.0), 22.0, 4.6)
        },
        RunPlan {
            note: "looked at twice".to_owned(),
            ..metal_run("hr10", QUAY, 0, parts::wire_form(42.0), 20.2, 3.8)
        },
        RunPlan {
            weak_spot: Some(WeakSpot {
                opens_at_kpa: 700.0,
                diameter_um: 75.0,
            }),
            habit: Habit {
                last_hold_s: 9.0,
                ..parts::habit(1600.0)
            },
            ..metal_run("hr11", PIER, 0, parts::wire_form(52.0), 20.3, 3.8)
        },
        RunPlan {
            outlines: Some(0.0),
            flow_eoa_cm2: Some(1.60),
            ..metal_run("hr12", QUAY, 0, parts::solid_stent(), 20.8, 5.5)
        },
        RunPlan {
            habit: with(vec![(6, Interlude::PartialDeflation(0.7))]),
            ..metal_run("hr13", PIER, 0, parts::solid_stent(), 20.7, 5.5)
        },
        metal_run("hr14", QUAY, 1, parts::stiff_base(), 21.6, 5.0),
        RunPlan {
            faults: vec![
                Fault::Dropout {
                    from_s: 19.0,
                    rows: 14,
                },
                Fault::Repeat {
                    from_s: 26.0,
                    rows: 9,
                },
            ],
            note: "logger cable loose".to_owned(),
            ..metal_run("hr15", PIER, 1, parts::stiff_base(), 21.7, 5.0)
        },
        RunPlan {
            habit: with(vec![
                (3, Interlude::Refill(1.2)),
                (7, Interlude::Pause(5.0)),
            ]),
            faults: vec![
                Fault::Gap {
                    from_s: 21.0,
                    seconds: 0.8,
                },
                Fault::Dropout {
                    from_s: 33.0,
                    rows: 22,
                },
                Fault::Repeat {
                    from_s: 37.0,
                    rows: 12,
                },
            ],
            outlines: Some(0.0),
            ..metal_run("hr16", QUAY, 1, parts::banded_stent(57.0), 22.1, 4.6)
        },
    ]
}
