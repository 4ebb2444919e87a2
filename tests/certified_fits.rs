//! Fits against certified and published values: NIST Statistical Reference Datasets (linear and nonlinear), Bates & Watts, Ritz & Streibig,
//! Sen. The number of correct digits is the log relative error of NIST, `-log10(|q - c| / |c|)`, or `-log10 |q|` where the certified value is 0.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::excessive_precision,
    clippy::unreadable_literal
)]

use std::f64::consts::PI;
use std::fs;
use std::path::{Path, PathBuf};

use hooptrace::fit::{
    Bound, Model, NoUncertainty, broken_line, fit_curve, linear_least_squares, mad_sigma, median,
    polynomial_fit, straight_line, theil_sen,
};
use ndarray::Array2;

fn data(folder: &str, file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(folder)
        .join(file)
}

fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace()
        .filter_map(|w| w.parse().ok())
        .collect()
}

/// Correct digits; 16 at most.
fn digits(value: f64, certified: f64) -> f64 {
    let error = if certified == 0.0 {
        value.abs()
    } else {
        ((value - certified) / certified).abs()
    };
    if error == 0.0 {
        16.0
    } else {
        (-error.log10()).min(16.0)
    }
}

fn worst(pairs: impl IntoIterator<Item = (f64, f64)>) -> f64 {
    pairs
        .into_iter()
        .map(|(v, c)| digits(v, c))
        .fold(16.0, |least, d| if d >= least { least } else { d })
}

/// A nonlinear set as certified.
struct Certified {
    starts: [Vec<f64>; 2],
    parameters: Vec<f64>,
    sds: Vec<f64>,
    sum_of_squares: f64,
    residual_sd: f64,
    dof: usize,
    /// Rows of the data: y, then the predictors.
    rows: Vec<Vec<f64>>,
}

fn read_nonlinear(name: &str) -> Certified {
    let text = fs::read_to_string(data("nist", &format!("{name}.dat"))).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let mut table = Vec::new();
    let mut labelled = [f64::NAN; 3];
    for line in &lines[40..60] {
        if let Some((label, rest)) = line.split_once('=') {
            assert!(label.trim().starts_with('b'), "{name}: {line}");
            table.push(numbers(rest));
        }
        for (slot, label) in labelled.iter_mut().zip([
            "Residual Sum of Squares:",
            "Residual Standard Deviation:",
            "Degrees of Freedom:",
        ]) {
            if let Some(rest) = line.strip_prefix(label) {
                *slot = numbers(rest)[0];
            }
        }
    }
    let column = |k: usize| table.iter().map(|row| row[k]).collect::<Vec<f64>>();
    Certified {
        starts: [column(0), column(1)],
        parameters: column(2),
        sds: column(3),
        sum_of_squares: labelled[0],
        residual_sd: labelled[1],
        dof: labelled[2] as usize,
        rows: lines[60..]
            .iter()
            .map(|l| numbers(l))
            .filter(|r| !r.is_empty())
            .collect(),
    }
}

const NAMES: [&str; 8] = ["b1", "b2", "b3", "b4", "b5", "b6", "b7", "b8"];

type Value = fn(&[f64], &[f64]) -> f64;

/// A NIST model; `x` is the number of the row, so that sets of two predictors fit in too. No gradient: the differences are tested with it.
struct Nist<'a> {
    parameters: usize,
    rows: &'a [Vec<f64>],
    value: Value,
}

impl Model for Nist<'_> {
    fn names(&self) -> &[&str] {
        &NAMES[..self.parameters]
    }
    fn value(&self, b: &[f64], x: f64) -> f64 {
        (self.value)(b, &self.rows[x as usize][1..])
    }
}

fn gauss(b: &[f64], x: &[f64]) -> f64 {
    let x = x[0];
    let peak = |size: f64, at: f64, width: f64| size * (-(x - at).powi(2) / width.powi(2)).exp();
    b[0] * (-b[1] * x).exp() + peak(b[2], b[3], b[4]) + peak(b[5], b[6], b[7])
}

fn lanczos(b: &[f64], x: &[f64]) -> f64 {
    let x = x[0];
    b[0] * (-b[1] * x).exp() + b[2] * (-b[3] * x).exp() + b[4] * (-b[5] * x).exp()
}

/// Every nonlinear set with the digits demanded of parameters and of standard deviations.
const NONLINEAR: [(&str, Value, f64, f64); 16] = [
    (
        "BoxBOD",
        |b, x| b[0] * (1.0 - (-b[1] * x[0]).exp()),
        6.0,
        6.0,
    ),
    (
        "Chwirut2",
        |b, x| (-b[0] * x[0]).exp() / (b[1] + b[2] * x[0]),
        6.0,
        6.0,
    ),
    ("DanWood", |b, x| b[0] * x[0].powf(b[1]), 6.0, 6.0),
    ("Gauss1", gauss, 6.0, 6.0),
    ("Gauss3", gauss, 6.0, 6.0),
    (
        "Kirby2",
        |b, x| {
            let x = x[0];
            (b[0] + x * (b[1] + x * b[2])) / (1.0 + x * (b[3] + x * b[4]))
        },
        6.0,
        6.0,
    ),
    // The residuals of Lanczos1 are 1e-13 on values near 1, of which f64 itself rounds off 1e-16: three digits of them exist.
    ("Lanczos1", lanczos, 6.0, 2.5),
    ("Lanczos3", lanczos, 6.0, 6.0),
    (
        "MGH09",
        |b, x| b[0] * x[0] * (x[0] + b[1]) / (x[0] * (x[0] + b[2]) + b[3]),
        6.0,
        6.0,
    ),
    (
        "MGH10",
        |b, x| b[0] * (b[1] / (x[0] + b[2])).exp(),
        6.0,
        6.0,
    ),
    (
        "Misra1a",
        |b, x| b[0] * (1.0 - (-b[1] * x[0]).exp()),
        6.0,
        6.0,
    ),
    (
        "Misra1c",
        |b, x| b[0] * (1.0 - (1.0 + 2.0 * b[1] * x[0]).powf(-0.5)),
        6.0,
        6.0,
    ),
    (
        "Nelson",
        |b, x| b[0] - b[1] * x[0] * (-b[2] * x[1]).exp(),
        6.0,
        6.0,
    ),
    (
        "Rat42",
        |b, x| b[0] / (1.0 + (b[1] - b[2] * x[0]).exp()),
        6.0,
        6.0,
    ),
    (
        "Roszman1",
        |b, x| b[0] - b[1] * x[0] - (b[2] / (x[0] - b[3])).atan() / PI,
        6.0,
        6.0,
    ),
    (
        "Thurber",
        |b, x| {
            let x = x[0];
            (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])))
        },
        6.0,
        6.0,
    ),
];

#[test]
fn nist_nonlinear_from_both_starts() {
    let mut failures = Vec::new();
    for (name, value, need_parameters, need_sds) in NONLINEAR {
        let set = read_nonlinear(name);
        let p = set.parameters.len();
        assert_eq!(set.rows.len(), set.dof + p, "{name}: rows read");
        let model = Nist {
            parameters: p,
            rows: &set.rows,
            value,
        };
        let x: Vec<f64> = (0..set.rows.len()).map(|i| i as f64).collect();
        // Nelson certifies a model of log[y].
        let y: Vec<f64> = set
            .rows
            .iter()
            .map(|r| if name == "Nelson" { r[0].ln() } else { r[0] })
            .collect();
        for (number, start) in set.starts.iter().enumerate() {
            let fit = fit_curve(&model, &x, &y, None, start, None).unwrap();
            let of_parameters = worst(
                fit.parameters
                    .iter()
                    .copied()
                    .zip(set.parameters.iter().copied()),
            );
            let of_sds = worst(
                set.sds
                    .iter()
                    .enumerate()
                    .map(|(i, &c)| (fit.u(i).unwrap_or(f64::NAN), c)),
            );
            let of_rss = digits(fit.sum_of_squares, set.sum_of_squares);
            let of_sd = digits(fit.residual_sd.unwrap_or(f64::NAN), set.residual_sd);
            let line = format!(
                "{name} start {}: parameters {of_parameters:.1}, sds {of_sds:.1}, rss {of_rss:.1}, sd {of_sd:.1}, {:?}, {} evaluations",
                number + 1,
                fit.stop,
                fit.evaluations
            );
            let good = of_parameters >= need_parameters
                && of_sds >= need_sds
                && of_rss.min(of_sd) >= need_sds
                && fit.dof == set.dof
                && fit.stop.converged();
            if !good {
                failures.push(line);
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

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

#[test]
fn nist_linear() {
    let mut failures = Vec::new();
    for (name, kind) in LINEAR {
        let text = fs::read_to_string(data("nist", &format!("{name}.dat"))).unwrap();
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
                    .map(|(i, c)| (fit.u(i).unwrap(), c[1])),
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

fn csv(folder: &str, file: &str) -> Vec<Vec<f64>> {
    fs::read_to_string(data(folder, file))
        .unwrap()
        .lines()
        .filter(|l| !l.starts_with('#'))
        .skip(1)
        .map(|l| l.split(',').map(|c| c.trim().parse().unwrap()).collect())
        .collect()
}

fn columns(rows: &[Vec<f64>]) -> (Vec<f64>, Vec<f64>) {
    rows.iter().map(|r| (r[0], r[1])).unzip()
}

#[test]
fn nist_norris_as_straight_line() {
    let text = fs::read_to_string(data("nist", "Norris.dat")).unwrap();
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

type Gradient = fn(&[f64], f64, &mut [f64]);

struct Formula {
    names: &'static [&'static str],
    value: fn(&[f64], f64) -> f64,
}

impl Model for Formula {
    fn names(&self) -> &[&str] {
        self.names
    }
    fn value(&self, p: &[f64], x: f64) -> f64 {
        (self.value)(p, x)
    }
}

/// The same with a gradient of its own.
struct WithGradient(Formula, Gradient);

impl Model for WithGradient {
    fn names(&self) -> &[&str] {
        self.0.names()
    }
    fn value(&self, p: &[f64], x: f64) -> f64 {
        self.0.value(p, x)
    }
    fn gradient(&self, p: &[f64], x: f64, out: &mut [f64]) {
        (self.1)(p, x, out);
    }
}

/// File, model, start, parameters, standard uncertainties, residual sum of squares.
type Case<'a> = (&'a str, &'a dyn Model, &'a [f64], &'a [f64], &'a [f64], f64);

const MICHAELIS_MENTEN: Formula = Formula {
    names: &["Vm", "K"],
    value: |p, x| p[0] * x / (p[1] + x),
};

#[test]
fn curves_with_published_fits() {
    let bod = Formula {
        names: &["asymptote", "ln_rate"],
        value: |p, x| p[0] * (1.0 - (-p[1].exp() * x).exp()),
    };
    let logistic = Formula {
        names: &["b", "c", "d", "e"],
        value: |p, x| p[1] + (p[2] - p[1]) / (1.0 + (x / p[3]).powf(p[0])),
    };
    let michaelis_menten = WithGradient(MICHAELIS_MENTEN, |p, x, out| {
        out[0] = x / (p[1] + x);
        out[1] = -p[0] * x / (p[1] + x).powi(2);
    });
    // Gauss-Newton at 40 digits; sources in tests/data/curves/SOURCE.md.
    let cases: [Case; 3] = [
        (
            "puromycin_mm.csv",
            &michaelis_menten,
            &[200.0, 0.05],
            &[212.683743143, 0.0641212816816],
            &[6.94715516, 0.0082809495],
            1195.44881444,
        ),
        (
            "bod_first_order.csv",
            &bod,
            &[19.0, -0.6],
            &[19.1425752846, -0.632821187865],
            &[2.49591733, 0.382386364],
            25.9902672819,
        ),
        (
            "ryegrass_4pl.csv",
            &logistic,
            &[2.5, 0.4, 8.0, 3.0],
            &[2.98222866622, 0.481409942939, 7.79296232774, 3.05795516934],
            &[0.458428817, 0.209506044, 0.18973326, 0.185828903],
            5.40021462777,
        ),
    ];
    for (file, model, start, parameters, us, sum_of_squares) in cases {
        let (x, y) = columns(&csv("curves", file));
        let fit = fit_curve(model, &x, &y, None, start, None).unwrap();
        let p = worst(
            fit.parameters
                .iter()
                .copied()
                .zip(parameters.iter().copied()),
        );
        let u = worst(us.iter().enumerate().map(|(i, &c)| (fit.u(i).unwrap(), c)));
        assert!(p > 6.0 && u > 6.0, "{file}: {p:.1} {u:.1} {fit:?}");
        assert!(digits(fit.sum_of_squares, sum_of_squares) > 9.0, "{file}");
        // Bounds that do not bind must not change the fit, its uncertainties or its degrees of freedom.
        let bounds: Vec<Bound> = parameters
            .iter()
            .map(|p| Bound::between(p - 5.0 * p.abs(), p + 7.0 * p.abs()))
            .collect();
        let bounded = fit_curve(model, &x, &y, None, start, Some(&bounds)).unwrap();
        let p = worst(
            bounded
                .parameters
                .iter()
                .copied()
                .zip(parameters.iter().copied()),
        );
        let u = worst(
            us.iter()
                .enumerate()
                .map(|(i, &c)| (bounded.u(i).unwrap(), c)),
        );
        assert!(
            p > 6.0 && u > 6.0 && bounded.dof == fit.dof,
            "{file} bounded: {p:.1} {u:.1}"
        );
    }
}

#[test]
fn published_digits_of_puromycin_with_weights_and_differences() {
    // Bates & Watts (1988): Vm 212.7, K 0.06412. A common weight must leave parameters and uncertainties as they are.
    let (x, y) = columns(&csv("curves", "puromycin_mm.csv"));
    let weights = vec![0.25; x.len()];
    let plain = MICHAELIS_MENTEN;
    let fit = fit_curve(&plain, &x, &y, Some(&weights), &[200.0, 0.05], None).unwrap();
    assert!((fit.parameters[0] - 212.7).abs() < 0.05 && (fit.parameters[1] - 0.06412).abs() < 5e-6);
    assert!(digits(fit.u(0).unwrap(), 6.94715516) > 6.0);
    assert!(digits(fit.sum_of_squares, 0.25 * 1195.44881444) > 9.0);
    // Akaike: n ln(SS/n) + 2 (p + 1), by hand for the unweighted fit: 12 ln(1195.44881444/12) + 6.
    let unweighted = fit_curve(&plain, &x, &y, None, &[200.0, 0.05], None).unwrap();
    assert!(
        (unweighted.aic - 61.21644).abs() < 1e-4,
        "{}",
        unweighted.aic
    );
    assert_eq!(fit.u(2), Err(NoUncertainty::NoSuchParameter));
}

#[test]
fn mercury_vapour_pressure_as_straight_line() {
    // ln(p/Pa) against 1/(T/K); slope and intercept by 40-digit arithmetic.
    let rows = csv("curves", "mercury_vapour_pressure.csv");
    let x: Vec<f64> = rows.iter().map(|r| 1.0 / (r[0] + 273.15)).collect();
    let y: Vec<f64> = rows.iter().map(|r| (r[1] * 133.322387415).ln()).collect();
    let line = straight_line(&x, &y, None).unwrap();
    assert!(
        worst([(line.slope, -7306.65379224), (line.intercept, 23.166523847)]) > 10.0,
        "{line:?}"
    );
}

#[test]
fn theil_sen_of_sen_and_of_arsenate() {
    // Sen (1968), JASA 63:1379: slope 4, intercept 6.
    let (x, y) = columns(&csv("stats", "methodcomp_sen1968.csv"));
    let (intercept, slope) = theil_sen(&x, &y).unwrap();
    assert!((slope - 4.0).abs() < 1e-12 && (intercept - 6.0).abs() < 1e-12);
    // Ripley & Thompson (1987) arsenate: slope and median-residual intercept by two statistics packages.
    let (x, y) = columns(&csv("stats", "methodcomp_arsenate.csv"));
    let (intercept, slope) = theil_sen(&x, &y).unwrap();
    assert!(worst([(slope, 0.8207343412527), (intercept, 0.4580561555076)]) > 11.0);
}

#[test]
fn median_and_mad_of_newcomb() {
    // Newcomb's speed of light (Stigler 1977): median 27, MAD 3, scaled 4.4478 with the rounded constant 1.4826.
    let values: Vec<f64> = csv("stats", "newcomb.csv")
        .into_iter()
        .map(|r| r[0])
        .collect();
    assert_eq!(median(&values), Some(27.0));
    assert!((mad_sigma(&values).unwrap() - 4.4478).abs() < 1e-4);
}

#[test]
fn broken_line_of_bacon_and_watts() {
    // Bacon & Watts (1971), Biometrika 58:525: join and slopes from a grid of 20001 joins and a bounded minimisation. The published fit is
    // of a smooth transition (join about 0.06, slopes about -0.418 and -1.014).
    let (x, y) = columns(&csv("curves", "bacon_watts.csv"));
    let b = broken_line(&x, &y).unwrap();
    assert!((b.x_break - 0.0359119958).abs() < 1e-7, "{b:?}");
    assert!((b.y_break - 0.529503458).abs() < 1e-7, "{b:?}");
    assert!((b.slope_left + 0.4220768141).abs() < 1e-7, "{b:?}");
    assert!((b.slope_right + 1.016592652).abs() < 1e-7, "{b:?}");
    assert!(digits(b.sum_of_squares, 0.0093813626976) > 9.0, "{b:?}");
    assert!((b.x_break - 0.06).abs() < 2.0 * b.u_break, "{b:?}");
    assert!(
        (b.slope_left + 0.418).abs() < 2.0 * b.u_slopes.0
            && (b.slope_right + 1.014).abs() < 2.0 * b.u_slopes.1
    );
    assert!(b.improvement > 100.0);
}
