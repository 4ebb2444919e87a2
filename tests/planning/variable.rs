//! Numbers of values by mean and scatter.

use super::support::run;
use hooptrace::plan::{Side, VariableOrder, variable};
use hooptrace::stats::{tolerance_one_sided, tolerance_power};
use hooptrace::uncertain::Draws;
use std::path::Path;

fn order(coverage: f64, confidence: f64, margin: f64, power: f64) -> VariableOrder {
    VariableOrder {
        limit: 10.0 + 2.0 * margin,
        mean: 10.0,
        sd: 2.0,
        unit: "atm".to_owned(),
        side: Side::Upper,
        coverage,
        confidence,
        power,
    }
}

/// Against scipy's noncentral t (see `tests/data/plan/SOURCE.md`).
#[test]
fn the_power_is_that_of_the_noncentral_t_distribution() {
    let table = include_str!("../data/plan/tolerance_power.csv");
    let mut seen = 0;
    for line in table.lines().skip(1) {
        let v: Vec<f64> = line
            .split(',')
            .map(|cell| cell.trim().parse().unwrap())
            .collect();
        let (n, k) = (v[0] as u64, v[4]);
        let factor = tolerance_one_sided(n, v[1], v[2]).unwrap();
        assert!((factor - k).abs() < 1e-9 * k, "{line}: {factor}");
        let power = tolerance_power(n, v[3], v[1], v[2]).unwrap();
        assert!((power - v[5]).abs() < 1e-9, "{line}: {power}");
        seen += 1;
    }
    assert_eq!(seen, 42);
}

/// The smallest numbers by scipy 1.17.1, going up from 3 one by one.
#[test]
fn the_number_is_the_smallest_with_that_power() {
    for (coverage, confidence, margin, power, n) in [
        (0.9, 0.95, 10.0 / 3.0, 0.9, 9),
        (0.9, 0.95, 2.0, 0.9, 41),
        (0.95, 0.95, 2.5, 0.9, 39),
        (0.99, 0.95, 3.0, 0.8, 66),
        (0.95, 0.9, 2.2, 0.9, 62),
        (0.9, 0.95, 1.6, 0.9, 175),
    ] {
        let upper = variable(order(coverage, confidence, margin, power)).unwrap();
        assert_eq!(upper.plan.n, n);
        assert!(upper.plan.power >= power);
        let before = upper.curve.iter().find(|point| point.n == n - 1).unwrap();
        assert!(before.power < power, "{before:?}");
        // A lower limit as far below the mean is the same question.
        let lower = VariableOrder {
            limit: 10.0 - 2.0 * margin,
            side: Side::Lower,
            ..order(coverage, confidence, margin, power)
        };
        assert_eq!(variable(lower).unwrap().plan.n, n);
    }
}

/// Made-up samples, seeded: the share that meets the criterion lies within four standard errors of the power.
#[test]
fn made_up_samples_pass_as_often_as_planned() {
    const TRIALS: u32 = 20_000;
    for (n, coverage, confidence, margin) in [
        (6, 0.9, 0.95, 3.0),
        (15, 0.95, 0.95, 2.5),
        (3, 0.9, 0.9, 4.0),
    ] {
        let k = tolerance_one_sided(n, coverage, confidence).unwrap();
        let mut draws = Draws::new(20, &format!("power of {n}"));
        let passed = (0..TRIALS).filter(|_| {
            let values: Vec<f64> = (0..n).map(|_| draws.normal()).collect();
            let mean = values.iter().sum::<f64>() / n as f64;
            let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
            mean + k * (squares / (n as f64 - 1.0)).sqrt() <= margin
        });
        let share = passed.count() as f64 / f64::from(TRIALS);
        let power = tolerance_power(n, margin, coverage, confidence).unwrap();
        let error = (power * (1.0 - power) / f64::from(TRIALS)).sqrt();
        assert!((share - power).abs() < 4.0 * error, "{n}: {share} {power}");
    }
}

#[test]
fn what_no_number_can_show_is_refused_with_the_reason() {
    let code = |order| variable(order).unwrap_err();
    let beyond = code(order(0.9, 0.95, -0.5, 0.9));
    assert!(
        beyond.code == "plan-beyond-limit" && beyond.message.contains("9 atm"),
        "{beyond}"
    );
    // 1.2 standard deviations: 88.5 % keep the limit, fewer than the 90 % asked.
    let small = code(order(0.9, 0.95, 1.2, 0.9));
    assert!(
        small.code == "plan-share-too-small" && small.message.contains("0.8849"),
        "{small}"
    );
    // Hardly more than the quantile itself: more values than any bench.
    assert_eq!(code(order(0.9, 0.95, 1.29, 0.9)).code, "plan-too-many");
    assert_eq!(code(order(0.9, 0.95, f64::NAN, 0.9)).code, "plan-variable");
    assert_eq!(code(order(1.0, 0.95, 2.0, 0.9)).code, "plan-variable");
}

#[test]
fn the_program_prints_units_and_the_curve() {
    let here = Path::new(".");
    let words = [
        "plan",
        "variable",
        "--limit",
        "16",
        "--mean",
        "11",
        "--sd",
        "1.5",
        "--unit",
        "atm",
        "--coverage",
        "0.9",
        "--confidence",
        "0.95",
    ];
    let (status, told, complaint) = run(here, &words);
    assert_eq!(status, 0, "{complaint}");
    assert!(
        told.starts_with("9 values") && told.contains("16 atm") && told.contains("86.28 %"),
        "{told}"
    );
    let (status, _, complaint) = run(here, &[&words as &[&str], &["--side", "lower"]].concat());
    assert!(
        status == 2 && complaint.contains("plan-beyond-limit"),
        "{complaint}"
    );
    let mut unknown = words;
    unknown[9] = "amt";
    let (status, _, complaint) = run(here, &unknown);
    assert!(
        status == 2 && complaint.contains("no known unit"),
        "{complaint}"
    );
}
