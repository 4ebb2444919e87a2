//! Mean, scatter and quantiles.

use std::collections::BTreeMap;

use hooptrace::stats::{
    describe, normal_quantile, student_quantile, tolerance_one_sided, tolerance_two_sided,
};

use super::{number, printed, read, relative, rows};

#[test]
fn nist_univariate() {
    // Digits that f64 can hold: the values of NumAcc4 are 1e7 + 0.1 j, whose rounding alone leaves eight digits of the sd.
    for (name, need) in [
        ("Lottery", 14.0),
        ("Mavro", 12.0),
        ("Michelso", 13.0),
        ("NumAcc1", 15.0),
        ("NumAcc2", 14.0),
        ("NumAcc4", 8.0),
    ] {
        let text = read("nist", &format!("{name}.dat"));
        let certified = |label: &str| {
            let line = text.lines().find(|l| l.starts_with(label)).unwrap();
            let (_, rest) = line.rsplit_once(':').unwrap();
            number(rest.split_whitespace().next().unwrap())
        };
        let values: Vec<f64> = text
            .lines()
            .skip(60)
            .filter_map(|l| l.trim().parse().ok())
            .collect();
        let d = describe(&values).unwrap();
        for (value, label) in [
            (d.mean, "Sample Mean"),
            (d.sd.unwrap(), "Sample Standard Deviation"),
        ] {
            let c = certified(label);
            let error = ((value - c) / c).abs();
            assert!(error <= 10f64.powf(-need), "{name} {label}: {value} {c}");
        }
    }
}

#[test]
fn fracture_set() {
    // Mean, sd, upper 95/95, two-sided 95/95, upper 95/95 on the logarithm (atm), by an independent package.
    let values = [9.1, 8.8, 9.6, 10.2, 9.4, 8.9, 9.9, 9.3, 9.7, 9.0];
    let d = describe(&values).unwrap();
    printed(d.mean, 9.39, 12);
    printed(d.sd.unwrap(), 0.458136, 6);
    let one = tolerance_one_sided(10, 0.95, 0.95).unwrap();
    let two = tolerance_two_sided(10, 0.95, 0.95).unwrap();
    printed(d.mean + one * d.sd.unwrap(), 10.72362, 5);
    printed(d.mean - two * d.sd.unwrap(), 7.83535, 5);
    printed(d.mean + two * d.sd.unwrap(), 10.94465, 5);
    let logs: Vec<f64> = values.iter().map(|v: &f64| v.ln()).collect();
    let l = describe(&logs).unwrap();
    printed((l.mean + one * l.sd.unwrap()).exp(), 10.80119, 5);
    // t(0.975; 9) = 2.262157 (printed tables), so the mean lies within 0.327727 of 9.39.
    let interval = d.mean_interval(0.95).unwrap();
    printed(
        interval.upper - d.mean,
        2.262157 * 0.458136 / 10f64.sqrt(),
        5,
    );
    printed(
        d.mean - interval.lower,
        2.262157 * 0.458136 / 10f64.sqrt(),
        5,
    );
}

#[test]
fn description_of_too_little() {
    assert!(describe(&[]).is_err());
    assert!(describe(&[1.0, f64::NAN]).is_err());
    let one = describe(&[4.0]).unwrap();
    assert_eq!((one.mean, one.sd, one.standard_error), (4.0, None, None));
    assert!(one.mean_interval(0.95).is_err());
}

#[test]
fn quantiles() {
    let mut seen = BTreeMap::new();
    for row in rows("quantiles.csv") {
        let (p, expected) = (number(&row[2]), number(&row[3]));
        let (value, tolerance) = match row[0].as_str() {
            "normal" => (normal_quantile(p), 1e-14),
            "student_t" => {
                let dof = number(row[1].strip_prefix("df=").unwrap());
                (student_quantile(p, dof).unwrap(), 1e-12)
            }
            _ => continue,
        };
        *seen.entry(row[0].clone()).or_insert(0) += 1;
        assert!(
            (value - expected).abs() <= tolerance * expected.abs().max(0.1),
            "{row:?}: {value}"
        );
    }
    assert!(seen["normal"] >= 10 && seen["student_t"] >= 100, "{seen:?}");
    assert!(normal_quantile(1.5).is_nan());
    assert!(student_quantile(0.9, 0.0).is_err());
    // Both sides of the change of method, and effective degrees of freedom, by quadrature of the density at 30 digits.
    for (dof, t) in [
        (20000.0, 1.96008260515814),
        (19999.0, 1.96008261108982),
        (2.5, 3.57465484200368),
    ] {
        relative(student_quantile(0.975, dof).unwrap(), t, 1e-11);
        relative(student_quantile(0.025, dof).unwrap(), -t, 1e-11);
    }
}
