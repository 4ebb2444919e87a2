//! Numbers of runs.

use hooptrace::stats::{
    Sides, further_runs, success_run_uniform_prior, tolerance_fails_at, tolerance_power,
    tolerance_runs_at, tolerance_sample_size,
};

use super::{outside, relative};

#[test]
fn numbers_by_convention() {
    // R^(n+1) = 1 - C: 58, 28, 298 for 95/95, 95/90, 95/99 (confidence/reliability), each one below the classical number.
    for (r, n) in [(0.95, 58), (0.90, 28), (0.99, 298)] {
        assert_eq!(success_run_uniform_prior(r, 0.95).unwrap(), n);
    }
    // 59, 93, 124, 153 runs for none to three failures at 95/95.
    for (n, f, more) in [
        (0, 0, 59),
        (40, 0, 19),
        (40, 1, 53),
        (40, 3, 113),
        (59, 0, 0),
        (200, 2, 0),
    ] {
        assert_eq!(further_runs(n, f, 0.95, 0.95).unwrap(), more, "{n} {f}");
    }
    assert!(further_runs(3, 4, 0.95, 0.95).is_err());
}

#[test]
fn power_of_a_tolerance_criterion() {
    // Noncentral t of scipy.
    for (n, d, p, c) in [
        (10, 3.5, 0.95, 0.95),
        (30, 3.0, 0.99, 0.95),
        (15, 2.0, 0.95, 0.9),
        (59, 2.2, 0.95, 0.95),
    ] {
        let expected = outside(&format!("plan/power/{n}"));
        relative(tolerance_power(n, d, p, c).unwrap(), expected, 1e-7);
    }
    for (d, p, c, power) in [
        (3.0, 0.95, 0.95, 0.8),
        (2.5, 0.95, 0.95, 0.9),
        (4.0, 0.99, 0.95, 0.9),
    ] {
        let n = tolerance_sample_size(d, p, c, power).unwrap();
        assert_eq!(n as f64, outside(&format!("plan/size/{d:?}")));
    }
    // At the quantile itself no number will do; the power there is the chance of a wrong pass, 1 - confidence.
    assert!(tolerance_sample_size(1.6448, 0.95, 0.95, 0.8).is_err());
    relative(
        tolerance_power(20, 1.6448536269514722, 0.95, 0.95).unwrap(),
        0.05,
        1e-8,
    );
    assert!(tolerance_sample_size(1.65, 0.95, 0.95, 0.9).is_err());
    assert!(tolerance_sample_size(f64::NAN, 0.95, 0.95, 0.9).is_err());
}

#[test]
fn runs_at_which_the_present_scatter_passes() {
    // Factors of the standard's table at 95/95: one-sided 2.9110 at 10, 2.3960 at 20; two-sided 3.3934 at 10, 2.7603 at 20.
    for (margin, sides, n) in [
        (2.9111, Sides::One, 10),
        (2.9109, Sides::One, 11),
        (2.3961, Sides::One, 20),
        (3.3935, Sides::Two, 10),
        (2.7602, Sides::Two, 21),
    ] {
        assert_eq!(tolerance_runs_at(margin, 0.95, 0.95, sides).unwrap(), n);
    }
    // The factor of the same quantile's other limit passes 0.5, 1 and 1.4 at 3, 10 and 88 values (scipy 1.17.1,
    // nct.ppf(0.05, n - 1, z sqrt(n)) / sqrt(n): 0.63914, 1.01730, 1.40044; one value fewer: 0.47479, 0.98987, 1.39916).
    for (margin, n) in [(0.5, 3), (1.0, 10), (1.4, 88)] {
        assert_eq!(tolerance_fails_at(margin, 0.95, 0.95).unwrap(), n);
    }
    assert!(tolerance_fails_at(1.65, 0.95, 0.95).is_err());
    assert!(tolerance_runs_at(1.9, 0.95, 0.95, Sides::Two).is_err());
    assert!(tolerance_runs_at(1.9, 0.95, 0.95, Sides::One).is_ok());
}
