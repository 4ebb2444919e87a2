//! Rated burst pressures from burst pressures.

use crate::{ATM, event, run};
use hooptrace::judge::rated_bursts;
use hooptrace::recording::{BalloonRow, EventKind, Outcome, RunKind, RunResult};
use hooptrace::rig::settings::Balloon;

fn row(id: &str, lot: &str) -> BalloonRow {
    BalloonRow {
        balloon_id: id.to_owned(),
        nominal_diameter_mm: Some(22.0),
        working_length_mm: Some(40.0),
        nominal_pressure_kpa: Some(4.0 * ATM),
        rated_burst_pressure_kpa: Some(14.0 * ATM),
        lot: Some(lot.to_owned()),
    }
}

fn burst(id: &str, kpa: f64) -> RunResult {
    let mut made = run(id, "", Outcome::Reference, 1.001 * kpa);
    made.kind = RunKind::Free;
    made.balloon_id = Some(id.to_owned());
    made.events = vec![event(EventKind::Burst, Some((30.0, kpa)))];
    made
}

/// Thirty bursts with mean 18.4 atm and standard deviation 0.62 atm: k = 4.0222 (tables of one-sided tolerance factors, 99.9 % at 95 %),
/// 18.4 − 4.0222 × 0.62 = 15.9062, label 15 atm.
#[test]
fn thirty_bursts_of_a_worked_case() {
    let raw: Vec<f64> = (0..30).map(|i| (f64::from(i) * 0.7).sin()).collect();
    let mean = raw.iter().sum::<f64>() / 30.0;
    let sd = (raw.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 29.0).sqrt();
    let atm: Vec<f64> = raw.iter().map(|v| 18.4 + 0.62 * (v - mean) / sd).collect();
    let runs: Vec<RunResult> = (0..30)
        .map(|i| burst(&format!("b{i}"), atm[i] * ATM))
        .collect();
    let rows: Vec<BalloonRow> = (0..30).map(|i| row(&format!("b{i}"), "A")).collect();
    let all = rated_bursts(&runs, &rows, &Balloon::default());
    assert_eq!(all.len(), 1);
    let rating = &all[0];
    assert!((rating.k.unwrap() - 4.0222).abs() < 5e-5);
    assert!((rating.limit_kpa.unwrap() / ATM - 15.9062).abs() < 5e-5);
    assert_eq!(rating.rated_atm, Some(15.0));
    assert_eq!(rating.labelled_atm.map(f64::round), Some(14.0));
    assert!(!rating.remarks.iter().any(|r| r.contains("Lots")));
}

#[test]
fn too_few_and_pooled_lots_are_said() {
    let runs = [burst("a", 1500.0), burst("b", 1600.0)];
    let all = rated_bursts(&runs, &[row("a", "A"), row("b", "B")], &Balloon::default());
    assert!(all[0].limit_kpa.is_none() && all[0].reason.is_some());
    assert!(
        all[0]
            .remarks
            .iter()
            .any(|r| r.contains("Lots pooled: A, B"))
    );
    // Bursts in a frame are another test.
    let mut framed = burst("a", 1500.0);
    framed.kind = RunKind::Frame;
    assert!(rated_bursts(&[framed], &[row("a", "A")], &Balloon::default()).is_empty());
}
