//! Values of a further recording on the samples of the main one.

use super::made_up::signal;
use hooptrace::calibrate::sync::{Alignment, envelope, onto};

/// A straight line stays one on any grid; gaps, missing samples and what lies outside stay missing.
#[test]
fn nothing_is_made_up() {
    let clock = Alignment {
        drift: 1e-4,
        centre_s: 5.0,
        ..Alignment::constant(2.0, 0.01)
    };
    let mut time: Vec<f64> = (0..=100).map(|k| 0.1 * f64::from(k)).collect();
    time.retain(|t| !(4.05..4.95).contains(t));
    let mut values: Vec<f64> = time.iter().map(|t| 3.0 + 2.0 * t).collect();
    values[70] = f64::NAN;
    let hole = time[70];
    let main: Vec<f64> = (0..1500).map(|k| 0.01 * f64::from(k)).collect();
    let placed = onto(&main, signal(&(time, values)), &clock);
    let mut seen = 0;
    for (t, v) in main.iter().zip(&placed) {
        let own = 5.0 + (t - 7.0) / 1.0001;
        let inside = (0.0..=10.0).contains(&own);
        let missing = (4.001..4.999).contains(&own) || (own - hole).abs() < 0.0999;
        if inside && !missing && (own - 4.5).abs() > 0.51 && (own - hole).abs() > 0.101 {
            assert!((v - (3.0 + 2.0 * own)).abs() < 1e-9, "{t}: {v}");
            seen += 1;
        } else if !inside || missing {
            assert!(v.is_nan(), "{t}: {v}");
        }
    }
    assert!(seen > 850, "{seen}");
    assert!((clock.u_at(5.0) - 0.01).abs() < 1e-15);
}

/// A click of one sample at 44.1 kHz stands at the main sample nearest to it, whatever its sign.
#[test]
fn a_click_between_samples_is_kept() {
    let time: Vec<f64> = (0..44_100).map(|k| f64::from(k) / 44_100.0).collect();
    let mut values: Vec<f64> = time
        .iter()
        .map(|t| 0.5 + 0.01 * (900.0 * t).sin())
        .collect();
    values[22_000] = -3.0;
    let main: Vec<f64> = (0..100).map(|k| 0.02 * f64::from(k)).collect();
    let clock = Alignment::constant(0.25, 0.001);
    let loud = envelope(&main, signal(&(time, values)), &clock);
    let at = 22_000.0 / 44_100.0 + 0.25;
    for (t, v) in main.iter().zip(&loud) {
        if (t - at).abs() < 0.01 {
            assert!((v - 3.5).abs() < 0.02, "{t}: {v}");
        } else if (0.27..1.23).contains(t) {
            assert!((0.005..0.02).contains(v), "{t}: {v}");
        } else if !(0.23..1.27).contains(t) {
            assert!(v.is_nan(), "{t}: {v}");
        }
    }
}
