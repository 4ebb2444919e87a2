//! Profile intervals and checks of residuals against values computed elsewhere.

use hooptrace::fit::{
    Fitted, Model, OpenEnd, check_residuals, fit_curve, profile_function, profile_parameter,
};

use super::models::{BOD, MICHAELIS_MENTEN, Stackloss, stackloss};
use super::{columns, csv, digits, worst};

#[test]
fn profile_intervals_of_puromycin() {
    // Bates & Watts (1988), 6.1. Held at K the best Vm is linear, held at Vm or at Vm/K the best K is a minimum in one variable: roots of the
    // sum of squares by scipy 1.17.1 (brentq, minimize_scalar).
    let (x, y) = columns(&csv("curves", "puromycin_mm.csv"));
    let fit = fit_curve(&MICHAELIS_MENTEN, &x, &y, None, &[200.0, 0.05], None).unwrap();
    let of = Fitted {
        model: &MICHAELIS_MENTEN,
        x: &x,
        y: &y,
        weights: None,
        bounds: None,
    };
    let vm = profile_parameter(&of, &fit, 0, 0.95).unwrap();
    let k = profile_parameter(&of, &fit, 1, 0.95).unwrap();
    let ratio = profile_function(&of, &fit, &|p| p[0] / p[1], 0.95).unwrap();
    for (found, lower, upper) in [
        (vm, 197.30193290028396, 229.28905505505296),
        (k, 0.04692034203517076, 0.08615691342714014),
        (ratio, 2607.302409099349, 4295.336281010685),
    ] {
        let pairs = [(found.lower.unwrap(), lower), (found.upper.unwrap(), upper)];
        assert!(worst(pairs) > 7.0, "{found:?}");
    }
}

#[test]
fn profile_interval_of_a_rate_that_has_no_upper_end() {
    // Bates & Watts (1988), 6.1. At 80 and 95 % the ends are roots by scipy 1.17.1 (brentq) with the asymptote, which is linear, at its best.
    // At 99 % the sum of squares would have to rise to 163.7 (t = 4.604), but for a fast rate it ends at 107.2, the scatter about the mean, and
    // for a slow one at 135.8, that about a line through zero.
    let (x, y) = columns(&csv("curves", "bod_first_order.csv"));
    let fit = fit_curve(&BOD, &x, &y, None, &[19.0, -0.6], None).unwrap();
    let of = Fitted {
        model: &BOD,
        x: &x,
        y: &y,
        weights: None,
        bounds: None,
    };
    for (confidence, lower, upper) in [
        (0.8, -1.2756533063545794, -0.03277347188654282),
        (0.95, -2.0295263214621295, 0.5923150599681903),
    ] {
        let found = profile_parameter(&of, &fit, 1, confidence).unwrap();
        let pairs = [(found.lower.unwrap(), lower), (found.upper.unwrap(), upper)];
        assert!(worst(pairs) > 6.0, "{found:?}");
    }
    let found = profile_parameter(&of, &fit, 1, 0.99).unwrap();
    assert_eq!(found.upper, Err(OpenEnd::NeverRises), "{found:?}");
    assert!(found.lower.is_err(), "{found:?}");
}

#[test]
fn profile_interval_of_a_straight_model_is_that_of_student() {
    // 97.5 % quantile of Student's t with 17 degrees of freedom, from every table.
    const T: f64 = 2.109815577833317;
    let (rows, x, y) = stackloss();
    let model = Stackloss(&rows);
    let fit = fit_curve(&model, &x, &y, None, &[0.0; 4], None).unwrap();
    let of = Fitted {
        model: &model,
        x: &x,
        y: &y,
        weights: None,
        bounds: None,
    };
    for i in 0..4 {
        let found = profile_parameter(&of, &fit, i, 0.95).unwrap();
        let half = T * fit.u(i).unwrap();
        let pairs = [
            (found.lower.unwrap(), fit.parameters[i] - half),
            (found.upper.unwrap(), fit.parameters[i] + half),
        ];
        assert!(worst(pairs) > 7.0, "{i}: {found:?}");
    }
}

#[test]
fn residuals_of_stackloss() {
    // statsmodels 0.15.0: OLS, OLSInfluence, outlier_test, normal_ad of the internally studentised residuals.
    let (rows, x, y) = stackloss();
    let model = Stackloss(&rows);
    let fit = fit_curve(&model, &x, &y, None, &[0.0; 4], None).unwrap();
    let parameters = [
        -39.919674420124,
        0.715640200485,
        1.295286124389,
        -0.152122519149,
    ];
    assert!(worst(fit.parameters.iter().copied().zip(parameters)) > 10.0);
    let checks = check_residuals(&model, &x, &y, None, &fit).unwrap();
    let leverage = [
        0.301555468936,
        0.317840958443,
        0.174615005419,
        0.128505243081,
    ];
    assert!(worst(checks.leverage.iter().copied().zip(leverage)) > 10.0);
    let (largest, normality) = (checks.largest.unwrap(), checks.normality.unwrap());
    assert_eq!(checks.largest_at, Some(20));
    let pairs = [
        (largest.statistic, -3.3304933193280495),
        (largest.p, 0.08899884128656499),
        (checks.lag_one.unwrap().statistic, 0.08171626184592899),
        (checks.lag_one.unwrap().p, 0.7080539615135171),
    ];
    assert!(worst(pairs) > 8.0, "{checks:?}");
    // normal_ad gives A² before its correction for the number of points.
    let n = 21.0;
    let corrected = 0.2772346289569789 * (1.0 + 0.75 / n + 2.25 / (n * n));
    let pairs = [
        (normality.statistic, corrected),
        (normality.p, 0.6169981537629056),
    ];
    assert!(worst(pairs) > 6.0, "{checks:?}");
    // Signs of the residuals in their order: +-++-----+++--++---+-, counted by hand.
    assert_eq!(checks.runs.unwrap().statistic, 10.0);
}

#[test]
fn wild_values_are_not_normal() {
    // Newcomb's 66 values about their mean: A² by statsmodels 0.15.0 (normal_ad). About a constant every leverage is the same.
    struct Constant;
    impl Model for Constant {
        fn names(&self) -> &[&str] {
            &["mean"]
        }
        fn value(&self, p: &[f64], _: f64) -> f64 {
            p[0]
        }
    }
    let y: Vec<f64> = csv("stats", "newcomb.csv")
        .into_iter()
        .map(|r| r[0])
        .collect();
    let x: Vec<f64> = (0..y.len()).map(|i| i as f64).collect();
    let fit = fit_curve(&Constant, &x, &y, None, &[20.0], None).unwrap();
    let normality = check_residuals(&Constant, &x, &y, None, &fit)
        .unwrap()
        .normality
        .unwrap();
    let n = 66.0;
    let corrected = 5.884349660782391 * (1.0 + 0.75 / n + 2.25 / (n * n));
    assert!(
        digits(normality.statistic, corrected) > 6.0,
        "{normality:?}"
    );
    assert!(
        (normality.p / 1.2170973178337e-14 - 1.0).abs() < 1e-3,
        "{normality:?}"
    );
}
