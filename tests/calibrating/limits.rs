//! A channel at its limits, in steps, with hum, with a range switched in the middle.

use crate::staircase::Staircase;
use crate::support::{in_a_hold, named, none, only, pressure, rig_with, runs, see, see_with};
use hooptrace::recording::Severity;
use hooptrace::uncertain::Draws;

/// A channel that ends at 700 kPa: as many samples as stand there are marked, and none is left out.
#[test]
fn a_channel_flat_at_its_limit_is_marked() {
    for run in runs() {
        let run = Staircase {
            limit_kpa: 700.0,
            ..run
        };
        let mut raw = run.make().raw;
        let at_limit = pressure(&mut raw).iter().filter(|p| **p == 700.0).count();
        let first = pressure(&mut raw).iter().position(|p| *p == 700.0).unwrap();
        let (trace, findings) = see(&raw);
        let found = only(&findings, "pressure-clipped", &named(&run));
        assert_eq!(
            (found.count, found.line),
            (Some(at_limit), Some(first as u64 + 2))
        );
        assert_eq!(trace.clipped.iter().filter(|c| **c).count(), at_limit);
        none(
            &findings,
            &["pressure-held", "pressure-floor"],
            &named(&run),
        );
    }
}

/// A channel that reads nothing below the zero of its converter: half of the vent stands at the floor.
#[test]
fn a_channel_flat_at_its_floor_is_told_and_kept() {
    for run in runs() {
        let mut raw = run.make().raw;
        for p in pressure(&mut raw) {
            *p = (*p - 10.0 * run.noise_kpa).max(0.0);
        }
        let (trace, findings) = see(&raw);
        let found = only(&findings, "pressure-floor", &named(&run));
        assert!(
            found.line == Some(2) && found.count.unwrap() > 20,
            "{found:?}"
        );
        none(
            &findings,
            &["pressure-held", "pressure-clipped"],
            &named(&run),
        );
        assert!(trace.pressure_kpa.iter().all(|p| p.is_finite()));
    }
}

/// Steps wider than the noise, where nothing is declared: the noise is a step over √12. Declared, nothing is said.
#[test]
fn steps_that_hide_the_noise_are_told_unless_declared() {
    for (seed, rate_hz) in [(1, 20.0), (2, 100.0), (3, 1000.0)] {
        for step in [2.0, 5.0, 10.0] {
            let run = Staircase {
                seed,
                rate_hz,
                noise_kpa: 0.1 * step,
                ..Staircase::default()
            };
            let mut raw = run.make().raw;
            for p in pressure(&mut raw) {
                *p = (*p / step).round() * step;
            }
            let about = format!("steps of {step} kPa, {}", named(&run));
            let (trace, findings) = see(&raw);
            let found = only(&findings, "quantised", &about);
            assert!(
                found.message.contains(&format!("steps of {step:.4} kPa")),
                "{found:?}"
            );
            assert!(
                (trace.noise_kpa - step / 12.0_f64.sqrt()).abs() < 1e-9,
                "{about}"
            );
            let declared = rig_with(&format!("unit = \"kPa\"\nresolution_kpa = {step:.1}"));
            none(&see_with(&raw, &declared).1, &["quantised"], &about);
            // A step is no held channel, and the highest one no limit.
            none(
                &findings,
                &["pressure-held", "pressure-clipped", "pressure-floor"],
                &about,
            );
        }
    }
    let fine = Staircase {
        noise_kpa: 1.0,
        ..Staircase::default()
    };
    let mut raw = fine.make().raw;
    for p in pressure(&mut raw) {
        *p = p.round();
    }
    none(&see(&raw).1, &["quantised"], "steps as wide as the noise");
}

/// A line of 50 Hz at rates that see it, at its own frequency or that of its alias; strokes and holds make none.
#[test]
fn hum_is_told_with_its_frequency_and_amplitude() {
    for (rate_hz, frequency) in [(1000.0, 50.0), (220.0, 50.0), (75.0, 25.0), (60.0, 10.0)] {
        for noise_kpa in [0.3, 1.5] {
            for seed in [1, 2] {
                let run = Staircase {
                    rate_hz,
                    noise_kpa,
                    seed,
                    hum_kpa: 2.0 * noise_kpa,
                    ..Staircase::default()
                };
                let (_, findings) = see(&run.make().raw);
                let found = only(&findings, "hum", &named(&run));
                assert_eq!(found.severity, Severity::Note);
                let number = |after: &str| -> f64 {
                    let rest = found.message.split(after).nth(1).unwrap();
                    rest.trim().split(' ').next().unwrap().parse().unwrap()
                };
                assert!((number(" at ") - frequency).abs() < 0.3, "{found:?}");
                let share = number("about") / (2.0 * noise_kpa);
                assert!((0.6..1.4).contains(&share), "{found:?}");
            }
        }
    }
}

/// From one sample on everything is five times larger, the noise too; or ten times smaller.
#[test]
fn a_range_switched_in_the_middle_is_told_with_its_place() {
    for run in runs() {
        if run.rate_hz < 100.0 {
            continue; // A hold has too few samples to tell the noise on either side.
        }
        for factor in [5.0, 2.0, 0.1] {
            let mut raw = run.make().raw;
            let at = in_a_hold(&run);
            for p in &mut pressure(&mut raw)[at..] {
                *p *= factor;
            }
            // Small numbers are written with more digits: what is rounded away is put back.
            let mut draws = Draws::new(run.seed, "digits");
            for p in pressure(&mut raw) {
                *p += 1e-4 * draws.normal();
            }
            let about = format!("factor {factor}, {}", named(&run));
            let (_, findings) = see(&raw);
            let level = pressure(&mut raw)[at]
                .abs()
                .min(pressure(&mut raw)[at - 1].abs());
            if level < 60.0 * run.noise_kpa {
                continue; // Lost in noise.
            }
            let found = only(&findings, "range-splice", &about);
            assert!(
                found.line.unwrap().abs_diff(at as u64 + 2) <= 1,
                "{about}: {found:?}"
            );
            assert_eq!(found.count, Some(1), "{about}");
        }
    }
}
