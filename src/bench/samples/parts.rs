//! Balloons, frames, recorders and habits of the invented laboratory.
//!
//! The numbers are chosen, not measured: they land where bench work with such constructions lands (moulded rings give way at 8 to
//! 10 atm, metal ones higher or not at all; balloons grow by a few hundredths of a millimetre per atm).

use crate::bench::balloon::Balloon;
use crate::bench::dialect::Dialect;
use crate::bench::frame::{Break, Construction};
use crate::bench::operator::Habit;
use crate::bench::plan::{BalloonPlan, FramePlan, InspectionNote, RunPlan};
use crate::bench::recorder::{Camera, Logger};
use crate::bench::solver::Seat;
use crate::units::KPA_PER_ATM;

/// A non-compliant balloon labelled `nominal_mm`, reached near `nominal_atm`.
pub fn balloon(id: &str, nominal_mm: f64, nominal_atm: f64, rated_atm: f64) -> BalloonPlan {
    let seating_mm = 0.45;
    let growth_mm_per_kpa = 6.0e-4;
    let at_nominal = seating_mm + growth_mm_per_kpa * nominal_atm * KPA_PER_ATM;
    BalloonPlan {
        id: id.to_owned(),
        nominal_diameter_mm: nominal_mm,
        nominal_pressure_atm: nominal_atm,
        rated_burst_pressure_atm: rated_atm,
        lot: format!("HB-{nominal_mm:.0}07"),
        chart_error: 0.0,
        balloon: Balloon {
            unfolded_diameter_mm: nominal_mm - at_nominal,
            seating_mm,
            seating_kpa: 140.0,
            growth_mm_per_kpa,
            unfolding_kpa: 1.5,
            working_length_mm: 40.0,
            cone_volume_ml: 2.4,
            folded_volume_ml: 0.12,
            creep_ml_per_kpa: 1.6e-5,
            creep_time_s: 7.0,
            burst_kpa: 2300.0,
        },
    }
}

/// Every construction by name, and whether it may break.
pub const CONSTRUCTIONS: &[(&str, bool)] = &[
    ("moulded-ring", true),
    ("moulded-double", true),
    ("banded-stent", true),
    ("wire-form", true),
    ("solid-stent", false),
    ("stiff-base", false),
];

/// The construction of this name of [`CONSTRUCTIONS`], which breaks at `strength_n` and, where a second band holds it, again at
/// `second_n`; none of another name.
pub fn construction(name: &str, strength_n: f64, second_n: f64) -> Option<Construction> {
    Some(match name {
        "moulded-ring" => moulded_ring(strength_n),
        "moulded-double" => moulded_double(strength_n, second_n),
        "banded-stent" => banded_stent(strength_n),
        "wire-form" => wire_form(strength_n),
        "solid-stent" => solid_stent(),
        "stiff-base" => stiff_base(),
        _ => return None,
    })
}

/// A break that leaves `yield_n`, `stiffness` and `hardening` of the ring.
fn break_at(strength_n: f64, yield_n: f64, stiffness: f64, hardening: f64) -> Break {
    Break {
        strength_n,
        life_exponent: 60.0,
        stiffness_n_per_mm: stiffness,
        yield_n,
        hardening_n_per_mm: hardening,
    }
}

/// A moulded polymer ring: elastic and a little creeping up to the break.
pub fn moulded_ring(strength_n: f64) -> Construction {
    Construction {
        name: "moulded-ring".to_owned(),
        stiffness_n_per_mm: 170.0,
        yield_n: 90.0,
        hardening_n_per_mm: 20.0,
        viscosity_n_s_per_mm: 40.0,
        lag_stiffness_n_per_mm: 650.0,
        lag_time_s: 5.0,
        breaks: vec![break_at(strength_n, 8.0, 11.0, 2.0)],
    }
}

/// A moulded ring with a second band that holds the opened ring until it breaks too.
pub fn moulded_double(first_n: f64, second_n: f64) -> Construction {
    Construction {
        breaks: vec![
            break_at(first_n, 0.68 * second_n, 60.0, 14.0),
            break_at(second_n, 6.0, 9.0, 2.0),
        ],
        ..moulded_ring(first_n)
    }
}

/// A metal band around the stent: yields, stretches a little, breaks.
pub fn banded_stent(strength_n: f64) -> Construction {
    Construction {
        name: "banded-stent".to_owned(),
        stiffness_n_per_mm: 320.0,
        yield_n: 44.0,
        hardening_n_per_mm: 24.0,
        viscosity_n_s_per_mm: 90.0,
        lag_stiffness_n_per_mm: 1500.0,
        lag_time_s: 6.0,
        breaks: vec![break_at(strength_n, 12.0, 14.0, 4.0)],
    }
}

/// A bent wire with one joint that opens.
pub fn wire_form(strength_n: f64) -> Construction {
    Construction {
        name: "wire-form".to_owned(),
        stiffness_n_per_mm: 130.0,
        yield_n: 33.0,
        hardening_n_per_mm: 15.0,
        viscosity_n_s_per_mm: 90.0,
        lag_stiffness_n_per_mm: 1200.0,
        lag_time_s: 6.0,
        breaks: vec![break_at(strength_n, 9.0, 12.0, 3.0)],
    }
}

/// A solid stent of a ductile metal: stretches and stays whole.
pub fn solid_stent() -> Construction {
    Construction {
        name: "solid-stent".to_owned(),
        stiffness_n_per_mm: 240.0,
        yield_n: 34.0,
        hardening_n_per_mm: 17.0,
        viscosity_n_s_per_mm: 90.0,
        lag_stiffness_n_per_mm: 1200.0,
        lag_time_s: 6.0,
        breaks: Vec::new(),
    }
}

/// A stiff base: neither stretches nor breaks within reach of the balloon.
pub fn stiff_base() -> Construction {
    Construction {
        name: "stiff-base".to_owned(),
        stiffness_n_per_mm: 900.0,
        yield_n: 400.0,
        hardening_n_per_mm: 50.0,
        viscosity_n_s_per_mm: 40.0,
        lag_stiffness_n_per_mm: 4000.0,
        lag_time_s: 6.0,
        breaks: Vec::new(),
    }
}

/// A frame of true inner diameter `true_id_mm`; its label is two millimetres more, a name rather than a length.
pub fn frame(id: &str, construction: Construction, true_id_mm: f64, band_mm: f64) -> FramePlan {
    FramePlan {
        id: id.to_owned(),
        construction,
        label_size_mm: (true_id_mm + 2.0).round(),
        true_id_mm,
        stent_id_mm: true_id_mm + 0.9,
        outer_diameter_mm: true_id_mm + 2.6,
        band_height_mm: band_mm,
        inner: None,
    }
}

/// Contact over `length` mm, centred.
pub fn seat(length: f64) -> Seat {
    Seat {
        contact_length_mm: length,
        off_centre: 0.0,
        shoulder: 0.0,
        fixture_n: 40.0,
        slip_time_s: 0.16,
    }
}

/// Strokes up to `target_kpa`.
pub fn habit(target_kpa: f64) -> Habit {
    Habit {
        vent_s: 3.0,
        fill_to_kpa: 42.0,
        fill_ml_s: 3.2,
        stroke_ml: 0.24,
        stroke_s: 0.9,
        hold_s: 1.7,
        target_kpa,
        strokes_after_event: 2,
        last_hold_s: 4.5,
        deflate_s: 2.2,
        interludes: Vec::new(),
    }
}

/// The habit of a blank run: small strokes, since only the line gives way, and a slow way down.
pub fn blank_habit(target_kpa: f64) -> Habit {
    Habit {
        stroke_ml: 0.1,
        deflate_s: 6.0,
        ..habit(target_kpa)
    }
}

/// The logger with a camera: 100 Hz, 16 bit.
pub fn quay_logger(rate_hz: f64) -> Logger {
    Logger {
        name: "quay".to_owned(),
        dialect: Dialect::Comma,
        rate_hz,
        white_kpa: 0.6,
        slow_kpa: 0.4,
        slow_time_s: 2.0,
        hum_kpa: 0.4,
        hum_hz: 50.0,
        zero_kpa: 1.5,
        left_kpa: 0.0,
        gain_error: 0.001,
        drift_kpa_per_min: 0.6,
        range_kpa: (-100.0, 3500.0),
        bits: 16,
        volume_resolution_ml: 0.002,
        volume_noise_ml: 0.002,
        volume_gain_error: 0.0,
        counter: true,
        microphone: None,
        camera: Some(Camera {
            noise_mm: 0.012,
            resolution_mm: 0.005,
            delay_s: 0.08,
            set_up_mm: 0.0,
            off_mm: 0.0,
        }),
        thermometer: false,
        u_kpa: 2.0,
        u_rel: 0.002,
        calibrated_on: "2025-01-20".to_owned(),
        due_on: "2026-01-20".to_owned(),
    }
}

/// The older logger: 50 Hz, 12 bit, no camera.
pub fn pier_logger() -> Logger {
    Logger {
        name: "pier".to_owned(),
        dialect: Dialect::Semicolon,
        rate_hz: 50.0,
        white_kpa: 0.9,
        gain_error: -0.0015,
        range_kpa: (-100.0, 5000.0),
        bits: 12,
        camera: None,
        thermometer: true,
        u_kpa: 2.5,
        calibrated_on: "2024-11-11".to_owned(),
        due_on: "2025-11-11".to_owned(),
        ..quay_logger(50.0)
    }
}

/// A run with the laboratory's usual ways, every stroke watched and nothing going wrong.
pub fn run(id: &str, start_s: u32, operator: &str, habit: Habit) -> RunPlan {
    RunPlan {
        id: id.to_owned(),
        frame: None,
        balloon: None,
        arm: String::new(),
        logger: 0,
        operator: operator.to_owned(),
        start_s,
        habit,
        seat: seat(5.0),
        burst_kpa: None,
        weak_spot: None,
        faults: Vec::new(),
        faults_at_break: Vec::new(),
        inspection: InspectionNote::AsSeen,
        note: String::new(),
        plugs: true,
        outlines: None,
        flow_eoa_cm2: None,
    }
}
