//! Exact limits of proportions and numbers of runs.

use hooptrace::stats::{
    binomial_lower, binomial_upper, clopper_pearson, demonstrated_reliability, sample_size,
    success_run,
};

use super::{number, printed, relative, rows};

#[test]
fn clopper_pearson_table() {
    let table = rows("clopper_pearson.csv");
    assert!(table.len() > 150);
    for row in table {
        let v: Vec<f64> = row.iter().map(|c| number(c)).collect();
        let (n, x) = (v[0] as u64, v[1] as u64);
        let limits = clopper_pearson(x, n, v[2]).unwrap();
        for (value, expected) in [
            (limits.lower, v[3]),
            (limits.upper, v[4]),
            (binomial_lower(x, n, v[2]).unwrap(), v[5]),
            (binomial_upper(x, n, v[2]).unwrap(), v[6]),
        ] {
            assert!(
                (value - expected).abs() < 1e-11,
                "{row:?}: {value} {expected}"
            );
        }
    }
}

#[test]
fn clopper_pearson_of_small_series() {
    // Beta quantiles by an independent package, six decimals.
    for (x, n, lower, upper) in [
        (8, 15, 0.265861, 0.787333),
        (0, 10, 0.0, 0.308497),
        (10, 10, 0.691503, 1.0),
        (59, 59, 0.939391, 1.0),
        (58, 59, 0.909144, 0.999571),
        (1, 20, 0.001265, 0.248733),
        (18, 20, 0.683017, 0.987651),
    ] {
        let limits = clopper_pearson(x, n, 0.95).unwrap();
        printed(limits.lower, lower, 6);
        printed(limits.upper, upper, 6);
    }
    printed(binomial_lower(59, 59, 0.95).unwrap(), 0.950492, 6);
    printed(binomial_upper(0, 30, 0.95).unwrap(), 0.095034, 6);
    printed(binomial_lower(57, 59, 0.95).unwrap(), 0.897110837, 9);
    // The largest numbers taken, by binomial sums at 30 digits.
    let limit = clopper_pearson(5000, 10_000, 0.95).unwrap().lower;
    relative(limit, 0.49015138058998, 1e-10);
    relative(
        binomial_lower(9990, 10_000, 0.95).unwrap(),
        0.998304368546355,
        1e-10,
    );
    assert!(clopper_pearson(0, 10_001, 0.95).is_err());
    // The Wilson interval of 8/15 is another one: 0.301170 to 0.751905.
    let limits = clopper_pearson(8, 15, 0.95).unwrap();
    assert!(limits.lower < 0.3011 - 0.03 && limits.upper > 0.7520 + 0.03);
}

#[test]
fn numbers_of_runs() {
    let table = rows("success_run.csv");
    assert!(table.len() > 20);
    for row in table {
        let (r, c, f, n) = (
            number(&row[0]),
            number(&row[1]),
            number(&row[2]) as u64,
            number(&row[3]) as u64,
        );
        assert_eq!(sample_size(r, c, f).unwrap(), n, "{row:?}");
        relative(
            demonstrated_reliability(n, f, c).unwrap(),
            number(&row[5]),
            1e-10,
        );
    }
    // Wilks (1941): the least value of n as limit needs the success-run number, least and greatest together that for one failure.
    for row in rows("wilks_sample_size.csv") {
        let (p, c) = (number(&row[0]), number(&row[1]));
        assert_eq!(success_run(p, c).unwrap(), number(&row[2]) as u64);
        assert_eq!(sample_size(p, c, 1).unwrap(), number(&row[3]) as u64);
    }
    // Confidence/reliability; the variant with a uniform prior would give 58, 28 and 298.
    for (c, r, n) in [
        (0.95, 0.95, 59),
        (0.95, 0.90, 29),
        (0.95, 0.99, 299),
        (0.90, 0.90, 22),
        (0.90, 0.95, 45),
        (0.80, 0.80, 8),
        (0.95, 0.80, 14),
        (0.95, 0.999, 2995),
        (0.75, 0.5, 2),
        (0.875, 0.5, 3),
    ] {
        assert_eq!(success_run(r, c).unwrap(), n, "{c}/{r}");
    }
    // ln(1 − C)/ln R by hand: 58.40397, 28.43316 and 21.85435 runs. The next whole number shows R, the one below does not.
    for (r, c, parts) in [
        (0.95, 0.95, 58.40397_f64),
        (0.90, 0.95, 28.43316),
        (0.90, 0.90, 21.85435),
    ] {
        let (fewer, more) = (parts.floor() as u64, parts.ceil() as u64);
        assert_eq!(success_run(r, c).unwrap(), more);
        assert!(demonstrated_reliability(more, 0, c).unwrap() >= r);
        assert!(demonstrated_reliability(fewer, 0, c).unwrap() < r);
    }
    for (f, n95, n90, n9090) in [
        (0, 59, 29, 22),
        (1, 93, 46, 38),
        (2, 124, 61, 52),
        (3, 153, 76, 65),
    ] {
        assert_eq!(sample_size(0.95, 0.95, f).unwrap(), n95);
        assert_eq!(sample_size(0.90, 0.95, f).unwrap(), n90);
        assert_eq!(sample_size(0.90, 0.90, f).unwrap(), n9090);
    }
    for (n, r) in [(59, 0.950492), (29, 0.901855), (10, 0.741134)] {
        printed(demonstrated_reliability(n, 0, 0.95).unwrap(), r, 6);
    }
}

#[test]
fn proportions_refuse_nonsense() {
    assert!(clopper_pearson(3, 2, 0.95).is_err());
    assert!(clopper_pearson(0, 0, 0.95).is_err());
    assert!(clopper_pearson(1, 2, 1.0).is_err());
    assert!(clopper_pearson(1, 2, f64::NAN).is_err());
    assert!(success_run(1.0, 0.95).is_err());
    assert!(success_run(1.0 - 1e-15, 0.95).is_err());
    assert!(sample_size(0.9, 0.95, u64::MAX).is_err());
}
