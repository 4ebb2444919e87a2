//! NIST StRD linear regression.

use std::fs;

use hooptrace::fit::{
    LinearFit, NoUncertainty, linear_least_squares, polynomial_fit, straight_line,
};
use ndarray::Array2;

use super::{columns, data, numbers, worst};

/// Digits demanded of everything.
const DIGITS: f64 = 13.0;

/// Where double precision allows fewer, and why.
const FEWER: [(&str, &str, f64, &str); 1] = [(
    "Filip",
    "design",
    7.5,
    "the powers of x are rounded to doubles when the design is given, and its condition number is 2e15",
)];

/// The linear sets: name and polynomial degree (0: the given columns and a constant; -1: the given columns only).
const LINEAR: [(&str, i32); 11] = [
    ("Norris", 1),
    ("Pontius", 2),
    ("NoInt1", -1),
    ("NoInt2", -1),
    ("Filip", 10),
    ("Longley", 0),
    ("Wampler1", 5),
    ("Wampler2", 5),
    ("Wampler3", 5),
    ("Wampler4", 5),
    ("Wampler5", 5),
];

/// Standard uncertainty; nothing where the fit is exact, as certified for Wampler1 and Wampler2.
fn u(fit: &LinearFit, i: usize) -> f64 {
    match fit.u(i) {
        Err(NoUncertainty::NoScatter) => 0.0,
        other => other.unwrap(),
    }
}

/// A linear set as certified.
struct Certified {
    /// Parameters and their standard deviations.
    table: Vec<Vec<f64>>,
    sd: f64,
    r_squared: f64,
    /// Rows of the data: y, then the predictors.
    rows: Vec<Vec<f64>>,
}

fn read(name: &str) -> Certified {
    match name {
        "Wampler3" => wampler(0.01),
        "Wampler5" => wampler(100.0),
        _ => read_file(name),
    }
}

/// Wampler3 and Wampler5 have no file here: their errors are those of Wampler4, which it adds to Wampler1, times a power of ten.
fn wampler(factor: f64) -> Certified {
    let (mut set, exact) = (read_file("Wampler4"), read_file("Wampler1"));
    for (row, exact) in set.rows.iter_mut().zip(&exact.rows) {
        let error = (row[0] - exact[0]) * factor;
        assert!((error - error.round()).abs() < 1e-9 && row[1] == exact[1]);
        row[0] = exact[0] + error.round();
    }
    for parameter in &mut set.table {
        parameter[1] *= factor;
    }
    set.sd *= factor;
    // The certified parameters are all 1, so the sum of squares of the regression is that of Wampler4, certified as this.
    let regression = 18814317208116.7;
    set.r_squared = regression / (regression + 15.0 * set.sd * set.sd);
    set
}

fn read_file(name: &str) -> Certified {
    let text = fs::read_to_string(data("nist/linear", &format!("{name}.dat"))).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let after = |label: &str| {
        let line = lines[30..60]
            .iter()
            .find(|l| l.trim_start().starts_with(label))
            .unwrap();
        *numbers(line).last().unwrap()
    };
    Certified {
        table: lines[30..50]
            .iter()
            .filter(|l| l.trim_start().starts_with('B'))
            .map(|l| numbers(l))
            .collect(),
        sd: after("Standard Deviation"),
        r_squared: after("R-Squared"),
        rows: lines[60..]
            .iter()
            .map(|l| numbers(l))
            .filter(|r| !r.is_empty())
            .collect(),
    }
}

#[test]
fn nist_linear() {
    let mut failures = Vec::new();
    for (name, kind) in LINEAR {
        let set = read(name);
        let Certified {
            table: certified,
            sd,
            r_squared,
            rows,
        } = &set;
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
                    .zip(certified)
                    .map(|(&v, c)| (v, c[0])),
            );
            let s = worst(
                certified
                    .iter()
                    .enumerate()
                    .map(|(i, c)| (u(&fit, i), c[1])),
            );
            let r = worst([
                (fit.residual_sd.unwrap(), *sd),
                (fit.r_squared.unwrap(), *r_squared),
            ]);
            let line = format!(
                "{name} by {way}: parameters {p:.1}, sds {s:.1}, residual sd and R² {r:.1}"
            );
            let need = FEWER
                .iter()
                .find(|f| f.0 == name && f.1 == way)
                .map_or(DIGITS, |f| f.2);
            if !(p >= need && s >= need && r >= need) {
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
