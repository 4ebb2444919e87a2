//! Numbers of values by mean and scatter.

use super::support::run;
use hooptrace::plan::{Limits, VariableOrder, variable};
use hooptrace::stats::{
    tolerance_one_sided, tolerance_power, tolerance_power_two_sided, tolerance_two_sided,
};
use hooptrace::uncertain::Draws;
use std::path::Path;

fn order(coverage: f64, confidence: f64, margin: f64, power: f64) -> VariableOrder {
    VariableOrder {
        limits: Limits::Upper {
            limit: 10.0 + 2.0 * margin,
        },
        mean: 10.0,
        sd: 2.0,
        unit: "atm".to_owned(),
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
            limits: Limits::Lower {
                limit: 10.0 - 2.0 * margin,
            },
            ..order(coverage, confidence, margin, power)
        };
        assert_eq!(variable(lower).unwrap().plan.n, n);
    }
}

/// Factors and powers of two limits by scipy 1.17.1, from their definitions: the factor as the root of the confidence by `quad` over the mean,
/// the power by `quad` over the standard deviation.
#[test]
fn two_limits_take_the_two_sided_factor() {
    for (n, below, above, coverage, confidence, k, power) in [
        (3, 8.0, 8.0, 0.9, 0.9, 5.788_073_552_7, 0.815_118_383_8),
        (10, 3.0, 3.0, 0.9, 0.95, 2.856_310_848_6, 0.498_790_841_0),
        (10, 4.0, 3.5, 0.9, 0.95, 2.856_310_848_6, 0.820_727_971_0),
        (25, 2.5, 6.0, 0.9, 0.95, 2.215_084_906_8, 0.794_937_970_2),
        (60, 2.2, 2.2, 0.9, 0.95, 1.959_873_274_0, 0.773_794_260_7),
        (100, 3.0, 2.4, 0.95, 0.95, 2.233_882_023_0, 0.820_483_142_7),
        (40, 3.2, 3.2, 0.99, 0.9, 3.068_792_620_5, 0.535_333_325_9),
    ] {
        let factor = tolerance_two_sided(n, coverage, confidence).unwrap();
        assert!((factor - k).abs() < 1e-8, "{n}: {factor}");
        let found = tolerance_power_two_sided(n, (below, above), coverage, confidence).unwrap();
        assert!((found - power).abs() < 1e-8, "{n}: {found}");
    }
    let both = |below: f64, above: f64| VariableOrder {
        limits: Limits::Both {
            lower: 10.0 - 2.0 * below,
            upper: 10.0 + 2.0 * above,
        },
        ..order(0.9, 0.95, 1.0, 0.9)
    };
    // The smallest numbers by the same scipy computation, by doubling and halving.
    for (margin, n) in [(4.0, 10), (3.0, 20)] {
        let plan = variable(both(margin, margin)).unwrap();
        assert_eq!(plan.plan.n, n);
        let before = plan.curve.iter().find(|point| point.n == n - 1).unwrap();
        assert!(before.power < 0.9 && plan.plan.power >= 0.9);
    }
    // A limit so far off that it never matters leaves the two-sided factor, which is larger than the one-sided.
    let far = variable(both(40.0, 3.0)).unwrap();
    let one = variable(order(0.9, 0.95, 3.0, 0.9)).unwrap();
    assert!(far.plan.n > one.plan.n && far.plan.k > one.plan.k);
    // 1.6 standard deviations on each side hold 89 %, and 1.7 and 1.6 hold 90.0 %, but the middle 90 % reach to 1.645.
    for (below, above) in [(1.6, 1.6), (1.72, 1.6)] {
        let small = variable(both(below, above)).unwrap_err();
        assert!(
            small.code == "plan-share-too-small"
                && small.message.contains("reach from 6.7103 to 13.2897 atm"),
            "{small}"
        );
    }
    let crossed = VariableOrder {
        limits: Limits::Both {
            lower: 12.0,
            upper: 8.0,
        },
        ..order(0.9, 0.95, 1.0, 0.9)
    };
    assert!(
        variable(crossed)
            .unwrap_err()
            .message
            .contains("expected the lower one below the upper one")
    );
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

/// Words of an order with these limits, in atm, for 90 % at 95 %.
fn asked(order: &'static str) -> Vec<&'static str> {
    let common = "--unit atm --coverage 0.9 --confidence 0.95";
    let words = "plan variable".split(' ');
    let words = words.chain(order.split(' ')).chain(common.split(' '));
    words.collect()
}

#[test]
fn the_program_prints_units_and_the_curve() {
    let here = Path::new(".");
    let words = asked("--limit 16 --mean 11 --sd 1.5");
    let (status, told, complaint) = run(here, &words);
    assert_eq!(status, 0, "{complaint}");
    assert!(
        told.starts_with("9 values") && told.contains("16 atm") && told.contains("86.28 %"),
        "{told}"
    );
    let (status, _, complaint) = run(here, &[&words[..], &["--side", "lower"]].concat());
    assert!(
        status == 2 && complaint.contains("plan-beyond-limit"),
        "{complaint}"
    );
    let two = asked("--lower 2 --upper 18 --mean 10 --sd 2");
    let (status, told, complaint) = run(here, &two);
    assert_eq!(status, 0, "{complaint}");
    assert!(
        told.starts_with("10 values: with them mean ± 2.8563 s keep the limits of 2 and 18 atm in"),
        "{told}"
    );
    // One of two limits alone, and a confidence that is none.
    let (status, _, complaint) = run(here, &[&two[..4], &two[6..]].concat());
    assert!(status == 2 && complaint.contains("--upper"), "{complaint}");
    let mut unsure = words.clone();
    unsure[13] = "0.4";
    let (status, _, complaint) = run(here, &unsure);
    assert!(
        status == 2 && complaint.contains("at least 0.5"),
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
