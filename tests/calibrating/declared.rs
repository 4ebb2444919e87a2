//! What is declared against what the numbers say: unit, scale, sign, columns, gauge or absolute, dates. Only doubted, never converted.

use crate::staircase::{Staircase, run_row};
use crate::support::{named, none, only, pressure, rig_with, runs, see, see_with, volume};
use hooptrace::calibrate::calibrate;
use hooptrace::recording::{RawRecording, Readings};
use hooptrace::rig::{Rig, Settings};

const DECLARED: &[&str] = &[
    "implausible-unit",
    "unscaled-signal",
    "sign-flip",
    "channel-swap",
    "looks-absolute",
    "looks-gauge",
];

/// Highest pressure of the trace, kPa.
fn top(values: &[f64]) -> f64 {
    values.iter().copied().fold(0.0, f64::max)
}

/// Numbers in one unit declared as another that lies far from it: factor from kPa to the numbers written, unit declared, unit meant.
#[test]
fn a_unit_far_from_the_one_meant_is_doubted_and_nothing_is_converted() {
    for run in runs() {
        for (per_kpa, declared, meant) in [
            (0.01, "kPa", "bar"),
            (0.01, "psi", "bar"),
            (0.01, "mmHg", "bar"),
            (0.145_037_74, "bar", "psi"),
            (0.145_037_74, "MPa", "psi"),
            (1.0, "bar", "kPa"),
            (1.0, "psi", "kPa"),
            (0.001, "bar", "MPa"),
        ] {
            let mut raw = run.make().raw;
            let unit = hooptrace::units::find(declared).unwrap();
            for p in pressure(&mut raw) {
                *p *= per_kpa;
            }
            raw.channels[0].unit = unit;
            let rig = rig_with(&format!("unit = \"{declared}\""));
            let about = format!("{meant} as {declared}, {}", named(&run));
            let (trace, findings) = see_with(&raw, &rig);
            let found = only(&findings, "implausible-unit", &about);
            assert!(
                found.message.contains(&format!("{meant} they reach")),
                "{about}: {found:?}"
            );
            let expected = top(pressure(&mut raw)) * unit.factor;
            assert!(
                (top(&trace.pressure_kpa) / expected - 1.0).abs() < 0.02,
                "{about}"
            );
        }
    }
}

/// bar for atm is 1.3 % off: nobody can tell from the numbers, and nothing is said.
#[test]
fn units_that_lie_close_are_not_doubted() {
    for run in runs() {
        let mut raw = run.make().raw;
        for p in pressure(&mut raw) {
            *p /= 101.325;
        }
        raw.channels[0].unit = hooptrace::units::find("bar").unwrap();
        none(
            &see_with(&raw, &rig_with("unit = \"bar\"")).1,
            DECLARED,
            &named(&run),
        );
    }
}

/// Signals that nobody scaled: a zero that is no zero, and no number beyond the span.
#[test]
fn a_signal_not_yet_scaled_is_doubted() {
    for run in runs() {
        for (zero, span, declared) in [
            (4.0, 16.0, "bar"),
            (4.0, 16.0, "kPa"),
            (0.5, 4.0, "bar"),
            (0.5, 4.0, "psi"),
            (1.0, 4.0, "kPa"),
        ] {
            let mut raw = run.make().raw;
            for p in pressure(&mut raw) {
                *p = zero + span * *p / 1500.0;
            }
            raw.channels[0].unit = hooptrace::units::find(declared).unwrap();
            let about = format!("{zero} and {span} as {declared}, {}", named(&run));
            let (_, findings) = see_with(&raw, &rig_with(&format!("unit = \"{declared}\"")));
            let found = only(&findings, "unscaled-signal", &about);
            assert_eq!(found.line, Some(2));
        }
    }
}

#[test]
fn a_pressure_upside_down_is_doubted_and_not_turned() {
    for run in runs() {
        let mut raw = run.make().raw;
        for p in pressure(&mut raw) {
            *p = -*p;
        }
        let (trace, findings) = see(&raw);
        let found = only(&findings, "sign-flip", &named(&run));
        assert_eq!(found.column.as_deref(), Some("pressure"));
        let below = trace.pressure_kpa.iter().filter(|p| **p < -121.59).count();
        assert_eq!(found.count, Some(below), "{}", named(&run));
        assert!(below > trace.len() / 4);
    }
}

/// A counter that tells what is left in the syringe.
#[test]
fn a_volume_upside_down_is_doubted() {
    for run in runs() {
        let mut raw = run.make().raw;
        for v in volume(&mut raw) {
            *v = 20.0 - *v;
        }
        let (_, findings) = see(&raw);
        let found = only(&findings, "sign-flip", &named(&run));
        assert_eq!(found.column.as_deref(), Some("volume"));
    }
}

/// The two columns in each other's place, in units in which neither looks odd (atm and mL), and in kPa.
#[test]
fn pressure_and_volume_in_each_others_place_are_doubted() {
    for run in runs() {
        for (per_kpa, unit) in [(1.0 / 101.325, "atm"), (1.0, "kPa")] {
            let mut raw = run.make().raw;
            let p: Readings = pressure(&mut raw).iter().map(|p| p * per_kpa).collect();
            let v = std::mem::replace(volume(&mut raw), p);
            *pressure(&mut raw) = v;
            raw.channels[0].unit = hooptrace::units::find(unit).unwrap();
            let about = format!("{unit}, {}", named(&run));
            let (_, findings) = see_with(&raw, &rig_with(&format!("unit = \"{unit}\"")));
            let found = only(&findings, "channel-swap", &about);
            assert!(found.message.contains("volume"), "{about}");
            none(&findings, &["sign-flip"], &about);
        }
    }
}

/// A gauge channel that stands at ambient, and an absolute one that stands at nothing, while the line is vented.
#[test]
fn gauge_and_absolute_are_told_from_the_vent() {
    for run in runs() {
        let mut raw = run.make().raw;
        for p in pressure(&mut raw) {
            *p += 101.325;
        }
        let (_, findings) = see(&raw);
        only(&findings, "looks-absolute", &named(&run));
        let absolute = rig_with("unit = \"kPa\"\nreference = \"absolute\"");
        none(&see_with(&raw, &absolute).1, DECLARED, &named(&run));
        let (_, findings) = see_with(&run.make().raw, &absolute);
        only(&findings, "looks-gauge", &named(&run));
    }
}

/// Overdue at the date of the test, not of the analysis.
#[test]
fn a_calibration_is_overdue_by_the_date_of_the_test() {
    let raw = runs()[0].make().raw;
    for (due, overdue) in [
        ("2025-05-04", true),
        ("2025-05-05", false),
        ("2026-01-01", false),
    ] {
        let rig = rig_with(&format!("unit = \"kPa\"\ndue_on = \"{due}\""));
        let (_, findings) =
            calibrate(raw.clone(), &rig, &run_row(), &Settings::default(), None).unwrap();
        let told = findings.iter().any(|f| f.code == "calibration-overdue");
        assert_eq!(told, overdue, "{due}");
    }
}

/// A run whose zero drifts by 40 kPa from its first reading to its last.
fn drifting(run: &Staircase) -> RawRecording {
    let mut raw = run.make().raw;
    let times = raw.time_s.clone();
    let end = times[times.len() - 1];
    for (p, t) in pressure(&mut raw).iter_mut().zip(&times) {
        *p += 40.0 * t / end;
    }
    raw
}

/// The zero that drifts between the vents, with its size.
#[test]
fn drift_between_the_vents_is_told_with_its_size() {
    for run in runs() {
        let (_, findings) = see(&drifting(&run));
        let found = only(&findings, "zero-drift", &named(&run));
        let told: f64 = found
            .message
            .split("by ")
            .nth(1)
            .and_then(|rest| rest.split(' ').next())
            .and_then(|number| number.parse().ok())
            .unwrap();
        // From the middle of one vent to the middle of the other is less than from end to end.
        assert!((32.0..42.0).contains(&told), "{}: {told}", named(&run));
    }
}

/// A counter set back to zero at the hand-over ends at zero, though what the syringe filled was counted: the closing vent is one.
#[test]
fn the_closing_vent_counts_where_the_counter_began_anew_at_the_hand_over() {
    for run in runs() {
        let mut raw = drifting(&run);
        // The plunger of the inflator stops where it began.
        for v in volume(&mut raw).iter_mut() {
            *v = v.max(0.0);
        }
        let (_, findings) = see(&raw);
        only(&findings, "zero-drift", &named(&run));
    }
}

/// Without a closing vent the drift is not seen: then that of the reference runs, or the one declared, counts with the time since
/// the opening vent.
#[test]
fn a_drift_that_no_closing_vent_shows_grows_with_time() {
    const PER_S: f64 = 0.05;
    for run in runs() {
        let mut raw = run.make().raw;
        // The recorder lost its transducer before the closing vent.
        let times = raw.time_s.clone();
        let end = times[times.len() - 1];
        for (p, t) in pressure(&mut raw).iter_mut().zip(&times) {
            if *t > end - 2.0 {
                *p = f64::NAN;
            }
        }
        let see = |rig: &Rig, usual: Option<f64>| {
            calibrate(raw.clone(), rig, &run_row(), &Settings::default(), usual).unwrap()
        };
        let silent = rig_with("unit = \"kPa\"");
        let (unknown, findings) = see(&silent, None);
        let note = only(&findings, "drift-unknown", &named(&run));
        assert!(note.effect.as_ref().unwrap().contains("none is in"));
        assert_eq!(unknown.u_drift_kpa_per_s, 0.0);
        let (usual, _) = see(&silent, Some(PER_S));
        let declared = rig_with("unit = \"kPa\"\ndrift_u_kpa_per_min = 3.0");
        let (stated, findings) = see(&declared, Some(10.0 * PER_S));
        for trace in [&usual, &stated] {
            let since = 40.0;
            let grown = trace.u_zero_at(trace.zeroed_at_s + since);
            let expected = trace.u_zero_kpa.hypot(PER_S * since);
            assert!((grown - expected).abs() < 1e-9, "{grown} {expected}");
        }
        let note = only(&findings, "drift-unknown", &named(&run));
        assert!(note.effect.as_ref().unwrap().contains("3.00 kPa/min"));
    }
}
