//! Stroke, closing and leakage volumes of records whose volumes are known.

use super::{Lcg, near};
use hooptrace::orifice::{FlowInstruments, Regurgitation, measure_flow, measure_regurgitation};
use hooptrace::recording::{FlowRecord, Stage};
use std::f64::consts::PI;

/// A beat, s, its forward flow, and the closing of the valve.
const BEAT_S: f64 = 0.85;
const EJECTION_S: f64 = 0.3;
const CLOSING_S: f64 = 0.06;

/// Volumes of a beat, mL.
#[derive(Clone, Copy)]
struct Volumes {
    forward: f64,
    closing: f64,
    leakage: f64,
}

/// Forward a half-sine; closing a half-sine on a ramp down to the leak; then the leak.
fn flow(volumes: Volumes, t: f64) -> f64 {
    let leak = volumes.leakage / (BEAT_S - EJECTION_S - CLOSING_S);
    let phase = (t - 0.2).rem_euclid(BEAT_S);
    if phase < EJECTION_S {
        return volumes.forward * PI / (2.0 * EJECTION_S) * (PI * phase / EJECTION_S).sin();
    }
    let into = phase - EJECTION_S;
    if into >= CLOSING_S || volumes.closing == 0.0 {
        return -leak;
    }
    // Area of the half-sine 2 c T/π and of the ramp leak T/2 make the closing volume.
    let peak = (volumes.closing - leak * CLOSING_S / 2.0) * PI / (2.0 * CLOSING_S);
    -(peak * (PI * into / CLOSING_S).sin() + leak * into / CLOSING_S)
}

fn record(
    volumes: Volumes,
    rate_hz: f64,
    seconds: f64,
    mut noise: impl FnMut() -> f64,
) -> FlowRecord {
    let time_s: Vec<f64> = (0..(seconds * rate_hz) as usize)
        .map(|i| i as f64 / rate_hz)
        .collect();
    let dp = |t: f64| {
        if (t - 0.2).rem_euclid(BEAT_S) < EJECTION_S {
            12.0
        } else {
            -80.0
        }
    };
    FlowRecord {
        run_id: "r".into(),
        stage: Stage::After,
        flow_ml_s: time_s.iter().map(|t| flow(volumes, *t) + noise()).collect(),
        dp_mmhg: time_s.iter().map(|t| dp(*t)).collect(),
        time_s,
        line: 2,
    }
}

fn measured(record: &FlowRecord) -> Regurgitation {
    measure_regurgitation(record, &FlowInstruments::default())
}

const CHECK: Volumes = Volumes {
    forward: 80.0,
    closing: 3.0,
    leakage: 5.0,
};

/// Definition (ISO 5840-1): RF = 100 (closing + leakage)/forward; 80, 3 and 5 mL make 10.0 %.
#[test]
fn volumes_of_a_clean_record() {
    let found = measured(&record(CHECK, 2000.0, 6.0, || 0.0));
    assert_eq!(found.cycles.len(), 6);
    near(found.stroke_volume.value.unwrap(), 80.0, 0.02);
    near(found.closing_volume.value.unwrap(), 3.0, 0.03);
    near(found.leakage_volume.value.unwrap(), 5.0, 0.03);
    near(found.regurgitant_fraction.value.unwrap(), 10.0, 0.02);
    near(found.ejection_time.value.unwrap(), 0.3, 1e-3);
    // Forward flow begins somewhere between two samples.
    near(found.rate.value.unwrap(), 60.0 / BEAT_S, 0.05);
    assert_eq!(found.regurgitant_fraction.unit, "%");
    // A gain of the flow cancels out of the fraction; a zero of 0.3 mL/s moves 0.55 s of reverse flow.
    let u = found.regurgitant_fraction.u.unwrap();
    let by_zero = 100.0 * 0.3 * (0.55 / 80.0 + 8.0 * 0.3 / 6400.0);
    near(u / by_zero, 1.0, 0.05);
}

/// Noise of 2 mL/s and a zero off by 0.3 mL/s: ± 2 u hold 95 % of the truths, within what 600 records tell.
#[test]
fn intervals_hold_their_truth() {
    let mut lcg = Lcg(3);
    let (mut held, mut all) = ([0; 3], 0);
    for trial in 0..600 {
        let (zero, gain) = (lcg.normal(0.3), 1.0 + lcg.normal(0.005));
        let seconds = if trial % 2 == 0 { 3.0 } else { 9.0 };
        let mut noisy = record(CHECK, 200.0, seconds, || lcg.normal(2.0));
        for q in &mut noisy.flow_ml_s {
            *q = gain * *q + zero;
        }
        let found = measured(&noisy);
        for (held, (quantity, truth)) in held.iter_mut().zip([
            (&found.stroke_volume, 80.0),
            (&found.regurgitant_fraction, 10.0),
            (&found.leakage_volume, 5.0),
        ]) {
            let (value, u) = quantity.pair().unwrap();
            *held += i32::from((value - truth).abs() <= 2.0 * u);
        }
        all += 1;
    }
    // Four standard deviations of a share of 0.95 out of 600 are 0.036.
    for held in held {
        let share = f64::from(held) / f64::from(all);
        assert!((0.914..=0.99).contains(&share), "{share}");
    }
}

/// A valve that closes at once: all that flows back is leakage, and no closing volume is made up.
#[test]
fn a_leak_alone_has_no_closing_volume() {
    let mut lcg = Lcg(5);
    let leak = Volumes {
        forward: 70.0,
        closing: 0.0,
        leakage: 4.9,
    };
    let found = measured(&record(leak, 200.0, 6.0, || lcg.normal(1.0)));
    assert!(
        found
            .closing_volume
            .reason
            .unwrap()
            .contains("closing peak")
    );
    let whole = 4.9 * (BEAT_S - EJECTION_S) / (BEAT_S - EJECTION_S - CLOSING_S);
    near(found.leakage_volume.value.unwrap(), whole, 0.4);
    near(
        found.regurgitant_fraction.value.unwrap(),
        100.0 * whole / 70.0,
        0.6,
    );
}

#[test]
fn what_is_missing_says_why() {
    let none = Volumes {
        closing: 0.0,
        leakage: 0.0,
        ..CHECK
    };
    let found = measured(&record(none, 500.0, 6.0, || 0.0));
    near(found.stroke_volume.value.unwrap(), 80.0, 0.1);
    for quantity in [
        &found.regurgitant_fraction,
        &found.closing_volume,
        &found.leakage_volume,
    ] {
        assert!(
            quantity
                .reason
                .as_ref()
                .unwrap()
                .contains("no reverse flow")
        );
    }
    // One beat and a bit: its forward flow is there, the next is not.
    let short = measured(&record(CHECK, 500.0, 0.9, || 0.0));
    assert!(short.cycles.is_empty());
    assert!(
        short
            .regurgitant_fraction
            .reason
            .unwrap()
            .contains("whole beat")
    );
    // A single whole beat tells no spread, and the noise stands in for it.
    let mut lcg = Lcg(9);
    let one = measured(&record(CHECK, 200.0, 1.6, || lcg.normal(2.0)));
    assert_eq!(one.cycles.len(), 1);
    assert!(one.regurgitant_fraction.u.unwrap() > 0.05);
    // Nothing to be had from noise, holes or nothing at all.
    for (t, q) in [
        (vec![], vec![]),
        (vec![0.0, 1.0], vec![1.0, 2.0]),
        ((0..50).map(f64::from).collect(), vec![f64::NAN; 50]),
    ] {
        let empty = FlowRecord {
            run_id: "r".into(),
            stage: Stage::Before,
            dp_mmhg: q.clone(),
            flow_ml_s: q,
            time_s: t,
            line: 2,
        };
        assert!(measured(&empty).cycles.is_empty());
    }
}

/// A recorded pulse wave in place of a flow (`tests/data/wave/SOURCE.md`): 24 beats, 58.8988 a minute, known to 1.
#[test]
fn beats_of_a_recorded_pulse() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/wave/ppg_100hz.csv");
    let sensor: Vec<f64> = std::fs::read_to_string(path)
        .unwrap()
        .lines()
        .filter_map(|line| line.parse().ok())
        .collect();
    assert!(sensor.len() > 2400);
    let mut sorted = sensor.clone();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted[sorted.len() / 2];
    let wave: Vec<f64> = sensor.iter().map(|value| value - middle).collect();
    let found = measured(&FlowRecord {
        run_id: "r".into(),
        stage: Stage::Before,
        time_s: (0..wave.len()).map(|i| i as f64 / 100.0).collect(),
        dp_mmhg: wave.clone(),
        flow_ml_s: wave,
        line: 2,
    });
    assert_eq!(found.cycles.len(), 23);
    let (rate, u) = found.rate.pair().unwrap();
    near(rate, 58.898_848, 1.0);
    assert!(u < 1.5, "{u}");
}

/// Through a closed valve nothing flows forwards: what is read there is the offset of the probe. A leak is none.
#[test]
fn an_offset_of_the_flow_is_told() {
    let instruments = FlowInstruments::default();
    let said = |leakage: f64, offset: f64| {
        let mut random = Lcg(11);
        let volumes = Volumes {
            leakage,
            closing: 0.0,
            ..CHECK
        };
        let noisy = record(volumes, 200.0, 4.0, || offset + random.normal(3.0));
        let found = measure_flow(&noisy, 1.0, &instruments).unwrap();
        let codes = found.findings.iter().map(|f| f.code.clone());
        codes.collect::<Vec<_>>()
    };
    assert_eq!(said(0.0, 8.0), ["flow-zero-off"]);
    assert!(said(0.0, 0.0).is_empty());
    assert!(said(5.0, 0.0).is_empty());
    // Within what the zero is worth.
    assert!(said(0.0, 0.3).is_empty());
}
