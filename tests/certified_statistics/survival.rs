//! Product-limit curves and the log-rank test.

use hooptrace::stats::{Observation, StatsError, holm, kaplan_meier, logrank, normal_quantile};

use super::{FRAME, number, observations, printed, relative, rows};

pub fn gehan() -> (Vec<Observation>, Vec<Observation>) {
    let (mut treated, mut control) = (Vec::new(), Vec::new());
    for row in rows("km_gehan.csv") {
        let observation = Observation {
            value: number(&row[0]),
            censored: row[1] == "0",
        };
        if row[2] == "control" {
            &mut control
        } else {
            &mut treated
        }
        .push(observation);
    }
    assert_eq!((treated.len(), control.len()), (21, 21));
    (treated, control)
}

#[test]
fn kaplan_meier_of_gehan() {
    // Textbook survival 0.857 0.807 0.753 0.690 0.627 0.538 0.448; further digits and Greenwood's errors by two statistics packages.
    let (treated, control) = gehan();
    let curve = kaplan_meier(&treated).unwrap();
    let expected = [
        (6.0, 21, 3, 0.857142857143, 0.07636035483),
        (7.0, 17, 1, 0.806722689076, 0.08693528518),
        (10.0, 15, 1, 0.752941176471, 0.09634965299),
        (13.0, 12, 1, 0.690196078431, 0.1068147078),
        (16.0, 11, 1, 0.627450980392, 0.1140538653),
        (22.0, 7, 1, 0.53781512605, 0.1282337517),
        (23.0, 6, 1, 0.448179271709, 0.1345914568),
    ];
    assert_eq!(curve.steps.len(), expected.len());
    for (step, (value, at_risk, failures, survival, u)) in curve.steps.iter().zip(expected) {
        assert_eq!(
            (step.value, step.at_risk, step.failures),
            (value, at_risk, failures)
        );
        printed(step.survival, survival, 11);
        relative(step.u.unwrap(), u, 1e-9);
    }
    assert_eq!(curve.median(), Some(23.0));
    // log(-log) limits of the survival from its definition: 0.4316 at 13 weeks is the first lower limit below a half, 0.6801 at 23 the last
    // upper one, so that the upper limit of the median is not reached.
    let at_13 = curve.steps[3].limits(0.95).unwrap();
    printed(at_13.lower, 0.4316102224, 9);
    printed(at_13.upper, 0.8490659634, 9);
    assert_eq!(curve.median_limits(0.95).unwrap(), (Some(13.0), None));
    assert_eq!(curve.survival_at(5.9), Some(1.0));
    printed(curve.survival_at(12.0).unwrap(), 0.752941176471, 11);
    assert_eq!(curve.survival_at(36.0), None);
    // The control arm, all of whom relapsed: median 8 weeks (textbook), and an end at zero without a standard error.
    let curve = kaplan_meier(&control).unwrap();
    assert_eq!(curve.median(), Some(8.0));
    let last = curve.steps.last().unwrap();
    assert_eq!((last.survival, last.u), (0.0, None));
    assert_eq!(curve.survival_at(100.0), Some(0.0));
}

#[test]
fn kaplan_meier_of_the_frame_set() {
    // Seven of ten fractured, none censored before: steps of a tenth by counting; a half is reached at the fifth fracture.
    let curve = kaplan_meier(&observations(&FRAME, &[26.0; 3])).unwrap();
    for (i, step) in curve.steps.iter().enumerate() {
        printed(step.survival, 0.9 - 0.1 * i as f64, 12);
    }
    assert_eq!(curve.median(), Some(22.7));
    assert_eq!(
        curve.survival_at(26.0).map(|s| (s * 10.0).round()),
        Some(3.0)
    );
    let none = kaplan_meier(&observations(&[], &[26.0; 3])).unwrap();
    assert_eq!((none.median(), none.steps.len()), (None, 0));
    assert!(kaplan_meier(&[]).is_err());
    assert!(kaplan_meier(&observations(&[f64::NAN], &[])).is_err());
}

#[test]
fn logrank_of_gehan() {
    // Chi-squared 16.79 (published), 16.7929409892 by a statistics package.
    let (treated, control) = gehan();
    let test = logrank(&[&treated, &control]).unwrap();
    printed(test.chi_squared, 16.7929409892, 9);
    assert_eq!(test.dof, 1);
    // A chi-squared value with one degree of freedom is a squared normal: its tail, by the quantile function.
    relative(
        normal_quantile(1.0 - 0.5 * test.p),
        test.chi_squared.sqrt(),
        1e-9,
    );
    assert_eq!(test.observed, vec![9, 21]);
    // Expected relapses 19.3 and 10.7 (textbook).
    printed(test.expected[0], 19.3, 1);
    printed(test.expected[1], 10.7, 1);
}

#[test]
fn logrank_of_three_groups_and_of_none() {
    let (treated, control) = gehan();
    // The order of the groups does not matter; a third group like the second makes two degrees of freedom.
    let a = logrank(&[&treated, &control, &control]).unwrap();
    let b = logrank(&[&control, &treated, &control]).unwrap();
    relative(a.chi_squared, b.chi_squared, 1e-10);
    assert_eq!(a.dof, 2);
    let expected: f64 = a.expected.iter().sum();
    relative(expected, 51.0, 1e-12);
    // Two degrees of freedom: p = exp(-chi²/2) exactly.
    relative(a.p, (-0.5 * a.chi_squared).exp(), 1e-9);
    // Equal groups do not differ.
    let same = logrank(&[&control, &control]).unwrap();
    assert!(same.chi_squared.abs() < 1e-12 && same.p > 0.999);
    assert!(logrank(&[&control]).is_err());
    assert!(logrank(&[&control, &[]]).is_err());
    let withstood = observations(&[], &[26.0; 3]);
    assert!(matches!(
        logrank(&[&withstood, &withstood]),
        Err(StatsError::NoMaximum { .. })
    ));
}

/// Statsmodels 0.15.0 (`multipletests`, method `holm`): 0.05, 0.12, 0.12, 0.03, 1, 1. What is no probability is no test.
#[test]
fn holm_adjusts_for_the_number_of_tests() {
    let p = [0.01, 0.04, 0.03, 0.005, 0.6, 0.9];
    for (found, expected) in holm(&p).into_iter().zip([0.05, 0.12, 0.12, 0.03, 1.0, 1.0]) {
        relative(found, expected, 1e-12);
    }
    let with_none = holm(&[0.02, f64::NAN, 0.03]);
    relative(with_none[0], 0.04, 1e-12);
    assert!(with_none[1].is_nan());
    relative(with_none[2], 0.04, 1e-12);
    assert!(holm(&[]).is_empty());
}
