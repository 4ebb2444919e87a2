//! What every detector keeps.

use crate::staircase::{Staircase, judge};
use hooptrace::detect::DETECTORS;
use hooptrace::recording::{Readings, Trace};
use hooptrace::uncertain::Draws;
use std::collections::BTreeSet;

/// A trace from pressure and volume (kPa, mL) at a rate (Hz), with the noise of its recording declared.
fn trace_of(rate_hz: f64, pressure: Vec<f64>, volume: Option<Vec<f64>>, noise_kpa: f64) -> Trace {
    let n = pressure.len();
    Trace {
        time_s: (0..n).map(|i| i as f64 / rate_hz).collect(),
        row: (0..n as u64).collect(),
        line: (0..n as u64).map(|i| i + 2).collect(),
        clipped: vec![false; n],
        noise_ml: if volume.is_some() { 0.002 } else { f64::NAN },
        pressure_kpa: pressure.into(),
        volume_ml: volume.map(Into::into),
        step_s: 1.0 / rate_hz,
        noise_kpa,
        ..Trace::default()
    }
}

const RATES_HZ: [f64; 4] = [10.0, 50.0, 100.0, 1000.0];
const NOISES_KPA: [f64; 3] = [0.3, 1.5, 4.0];

#[test]
fn names_are_unique_and_every_detector_says_what_it_looks_for() {
    let mut names = BTreeSet::new();
    for detector in DETECTORS {
        assert!(names.insert(detector.name()), "{} twice", detector.name());
        assert!(detector.name().chars().all(|c| c.is_ascii_lowercase()));
        assert!(detector.looks_for().split_whitespace().count() > 3);
    }
    assert!(!names.is_empty());
}

/// Nothing but noise, at any height of pressure.
#[test]
fn a_flat_line_gives_no_event() {
    let mut draws = Draws::new(3, "flat");
    for rate in RATES_HZ {
        for noise in NOISES_KPA {
            for height in [0.0, 900.0] {
                for with_volume in [true, false] {
                    let n = (20.0 * rate) as usize;
                    let pressure = (0..n).map(|_| height + noise * draws.normal()).collect();
                    let volume =
                        with_volume.then(|| (0..n).map(|_| 0.002 * draws.normal()).collect());
                    let trace = trace_of(rate, pressure, volume, noise);
                    let (_, events, _) = judge(&trace, None);
                    assert!(
                        events.is_empty(),
                        "{rate} Hz, {noise} kPa at {height} kPa: {events:?}"
                    );
                }
            }
        }
    }
}

/// Strokes and holds that relax by 3 and 8 % are what a whole frame looks like.
#[test]
fn a_plain_staircase_gives_no_event() {
    for (k, rate_hz) in RATES_HZ.into_iter().enumerate() {
        for noise_kpa in NOISES_KPA {
            for relaxation in [0.03, 0.08] {
                for volume in [true, false] {
                    let (_, seen) = Staircase {
                        rate_hz,
                        noise_kpa,
                        relaxation,
                        volume,
                        seed: 40 + k as u64,
                        ..Staircase::default()
                    }
                    .see();
                    assert!(
                        seen.events.is_empty(),
                        "{rate_hz} Hz, {noise_kpa} kPa, {relaxation}, volume {volume}: {:?}",
                        seen.events
                    );
                }
            }
        }
    }
}

/// Cells that are missing are no pressure: stretches of them in strokes and holds, every other sample, a gap in the clock.
#[test]
fn missing_samples_give_no_event() {
    for rate_hz in RATES_HZ {
        for volume in [true, false] {
            let (_, seen) = Staircase {
                rate_hz,
                volume,
                seed: 9,
                ..Staircase::default()
            }
            .see();
            let n = seen.trace.len();
            let patterns: [&dyn Fn(usize) -> bool; 4] = [
                &|i| (n / 3..n / 2).contains(&i),
                &|i| i % 2 == 1,
                &|i| (i * 7919) % 100 < 30,
                &|i| i > n / 2,
            ];
            for (p, missing) in patterns.into_iter().enumerate() {
                let mut trace = seen.trace.clone();
                for i in (0..n).filter(|i| missing(*i)) {
                    trace.pressure_kpa[i] = f64::NAN;
                    if p % 2 == 1
                        && let Some(v) = trace.volume_ml.as_mut()
                    {
                        v[i] = f64::NAN;
                    }
                }
                let (_, events, _) = judge(&trace, None);
                assert!(
                    events.is_empty(),
                    "{rate_hz} Hz, volume {volume}, pattern {p}: {events:?}"
                );
            }
            // Rows gone, half a second and three seconds.
            for (from, length) in [(0.4, 0.5), (0.55, 3.0)] {
                let (a, b) = (from * n as f64, from * n as f64 + length * rate_hz);
                let keep: Vec<usize> = (0..n)
                    .filter(|i| (*i as f64) < a || *i as f64 >= b)
                    .collect();
                let of = |v: &[f64]| -> Readings { keep.iter().map(|i| v[*i]).collect() };
                let trace = Trace {
                    time_s: of(&seen.trace.time_s),
                    pressure_kpa: of(&seen.trace.pressure_kpa),
                    volume_ml: seen.trace.volume_ml.as_deref().map(of),
                    row: keep.iter().map(|row| *row as u64).collect(),
                    line: keep.iter().map(|i| *i as u64 + 2).collect(),
                    clipped: vec![false; keep.len()],
                    handover: None,
                    ..seen.trace.clone()
                };
                let (_, events, _) = judge(&trace, None);
                assert!(
                    events.is_empty(),
                    "{rate_hz} Hz, volume {volume}, gap {length} s: {events:?}"
                );
            }
        }
    }
}

/// Anything goes in, nothing panics, and phases cover what there is.
#[test]
fn short_and_broken_traces_do_not_panic() {
    let long: Vec<f64> = (0..500).map(|i| f64::from(i % 97) * 10.0).collect();
    let mut cases: Vec<Vec<f64>> = (0..12).map(|n| long[..n].to_vec()).collect();
    cases.push(vec![f64::NAN; 300]);
    cases.push(vec![700.0; 300]);
    cases.push(vec![0.0; 300]);
    cases.push(vec![-1e9; 300]);
    cases.push(
        (0..300)
            .map(|i| if i % 2 == 0 { 1e300 } else { -1e300 })
            .collect(),
    );
    cases.push(
        (0..300)
            .map(|i| if i == 150 { f64::INFINITY } else { 1.0 })
            .collect(),
    );
    cases.push(
        (0..300)
            .map(|i| if i == 150 { f64::NEG_INFINITY } else { 1.0 })
            .collect(),
    );
    cases.push(long.clone());
    for pressure in cases {
        for rate in RATES_HZ {
            for noise in [1e-6, 1.0, 1e6, f64::NAN] {
                let n = pressure.len();
                let volumes = [
                    None,
                    Some(vec![0.0; n]),
                    Some(vec![f64::NAN; n]),
                    Some((0..n).map(|i| i as f64 * 0.01).collect()),
                ];
                for volume in volumes {
                    let mut trace = trace_of(rate, pressure.clone(), volume, noise);
                    let (phases, events, _) = judge(&trace, None);
                    assert_eq!(phases.first().map_or(0, |p| p.start), 0);
                    assert_eq!(phases.last().map_or(0, |p| p.end), n);
                    for event in events {
                        assert!(event.before < n && event.after <= n);
                        assert!(event.t_lo_s.unwrap() <= event.t_hi_s.unwrap());
                    }
                    trace.clipped = vec![true; n];
                    trace.handover = Some(n / 2);
                    judge(&trace, None);
                }
            }
        }
    }
}

/// Noise ten times larger with a fall ten times larger: thresholds follow the recording, no fixed number of kPa decides.
#[test]
fn a_scaled_recording_gives_the_same_events() {
    use crate::staircase::{What, When};
    let (_, seen) = Staircase {
        noise_kpa: 0.5,
        happenings: vec![(When::Stroke(5, 0.5), What::Snap(60.0))],
        ..Staircase::default()
    }
    .see();
    assert_eq!(seen.events.len(), 1);
    for factor in [0.1, 10.0] {
        let mut trace = seen.trace.clone();
        for p in &mut trace.pressure_kpa {
            *p *= factor;
        }
        trace.noise_kpa *= factor;
        let (_, events, _) = judge(&trace, None);
        assert_eq!(events.len(), 1, "{factor}: {events:?}");
        assert_eq!(events[0].before, seen.events[0].before);
        let (a, b) = (
            events[0].drop.value.unwrap(),
            seen.events[0].drop.value.unwrap(),
        );
        assert!((a / factor - b).abs() < 1e-6 * b, "{a} {b}");
    }
}
