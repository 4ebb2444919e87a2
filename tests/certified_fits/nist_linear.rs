//! NIST StRD linear regression.

use std::fs;

use hooptrace::fit::{
    LinearFit, NoUncertainty, linear_least_squares, polynomial_fit, straight_line,
};
use ndarray::Array2;

use super::{columns, data, numbers, worst};

/// The linear sets: name and polynomial degree (0: the given columns and a constant; -1: the given columns only).
const LINEAR: [(&str, i32); 9] = [
    ("Norris", 1),
    ("Pontius", 2),
    ("NoInt1", -1),
    ("NoInt2", -1),
    ("Filip", 10),
    ("Longley", 0),
    ("Wampler1", 5),
    ("Wampler2", 5),
    ("Wampler4", 5),
];

/// Standard uncertainty; nothing where the fit is exact, as certified for Wampler1 and Wampler2.
fn u(fit: &LinearFit, i: usize) -> f64 {
    match fit.u(i) {
        Err(NoUncertainty::NoScatter) => 0.0,
        other => other.unwrap(),
    }
}

#[test]
fn nist_linear() {
    let mut failures = Vec::new();
    for (name, kind) in LINEAR {
        let text = fs::read_to_string(data("nist/linear", &format!("{name}.dat"))).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        let certified: Vec<Vec<f64>> = lines[30..50]
            .iter()
            .filter(|l| l.trim_start().starts_with('B'))
            .map(|l| numbers(l))
            .collect();
        let after = |label: &str| {
            let line = lines[30..60]
                .iter()
                .find(|l| l.trim_start().starts_with(label))
                .unwrap();
            *numbers(line).last().unwrap()
        };
        let (sd, r_squared) = (after("Standard Deviation"), after("R-Squared"));
        let rows: Vec<Vec<f64>> = lines[60..]
            .iter()
            .map(|l| numbers(l))
            .filter(|r| !r.is_empty())
            .collect();
        let y: Vec<f64> = rows.iter().map(|r| r[0]).collect();
        let power = |x: f64, j: usize| (0..j).fold(1.0, |p, _| p * x);
        let design = Array2::from_shape_fn((rows.len(), certified.len()), |(i, j)| match kind {
            -1 => rows[i][1 + j],
            0 if j == 0 => 1.0,
            0 => rows[i][j],
            _ => power(rows[i][1], j),
        });
        let mut fits = vec![("design", linear_least_squares(&design, &y, None).unwrap())];
        if kind > 0 {
            let x: Vec<f64> = rows.iter().map(|r| r[1]).collect();
            fits.push((
                "polynomial",
                polynomial_fit(&x, &y, kind as usize, None).unwrap(),
            ));
        }
        for (way, fit) in fits {
            assert_eq!(fit.dof, rows.len() - certified.len());
            let p = worst(
                fit.parameters
                    .iter()
                    .zip(&certified)
                    .map(|(&v, c)| (v, c[0])),
            );
            let s = worst(
                certified
                    .iter()
                    .enumerate()
                    .map(|(i, c)| (u(&fit, i), c[1])),
            );
            let r = worst([
                (fit.residual_sd.unwrap(), sd),
                (fit.r_squared.unwrap(), r_squared),
            ]);
            let line = format!(
                "{name} by {way}: parameters {p:.1}, sds {s:.1}, residual sd and R² {r:.1}"
            );
            if !(p >= 6.0 && s >= 6.0 && r >= 6.0) {
                failures.push(line);
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn nist_norris_as_straight_line() {
    let text = fs::read_to_string(data("nist/linear", "Norris.dat")).unwrap();
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(60)
        .map(numbers)
        .filter(|r| !r.is_empty())
        .collect();
    let (y, x) = columns(&rows);
    let line = straight_line(&x, &y, None).unwrap();
    // Certified values of NIST StRD Norris.
    let pairs = [
        (line.intercept, -0.262323073774029),
        (line.slope, 1.00211681802045),
        (line.u_intercept, 0.232818234301152),
        (line.u_slope, 0.429796848199937e-3),
        (line.sd, 0.884796396144373),
    ];
    assert!(worst(pairs) > 12.0, "{line:?}");
}
