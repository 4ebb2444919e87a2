//! Statistics against printed tables, published analyses and values computed at 40 digits. Files and their sources: tests/data/stats/SOURCE.md.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::approx_constant,
    clippy::excessive_precision,
    clippy::print_stdout,
    clippy::unreadable_literal
)]

mod agreement;
mod categories;
mod conformity;
mod coverage;
mod description;
mod dose;
mod gauge;
mod plans;
mod proportions;
mod samples;
mod strength;
mod strength_models;
mod survival;
mod thresholds;
mod tolerance;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::OnceLock;

use hooptrace::stats::Observation;

fn read(folder: &str, file: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(folder)
        .join(file);
    fs::read_to_string(path).unwrap()
}

/// Rows of a CSV file without its comments and header; cells as text.
fn rows(file: &str) -> Vec<Vec<String>> {
    read("stats", file)
        .lines()
        .filter(|l| !l.starts_with('#'))
        .skip(1)
        .map(|l| l.split(',').map(|c| c.trim().to_owned()).collect())
        .collect()
}

/// A value of a general library or of plain numerical maximisation: tests/data/stats/outside_values.py says how it was made.
#[track_caller]
fn outside(key: &str) -> f64 {
    static VALUES: OnceLock<BTreeMap<String, f64>> = OnceLock::new();
    let values = VALUES.get_or_init(|| {
        rows("outside_values.csv")
            .into_iter()
            .map(|r| (r[0].clone(), number(&r[1])))
            .collect()
    });
    match values.get(key) {
        Some(value) => *value,
        None => panic!("no value {key}"),
    }
}

/// The sample `sequence(n)` of outside_values.py.
fn sequence(n: usize) -> Vec<f64> {
    (1..=n)
        .map(|i| {
            let u = (i as f64 * 0.618_033_988_749_894_9).fract();
            let z = hooptrace::stats::normal_quantile(0.01 + 0.98 * u);
            z + 0.1 * z * z
        })
        .collect()
}

fn number(cell: &str) -> f64 {
    cell.parse().unwrap()
}

/// Equal to `digits` decimals as printed.
#[track_caller]
fn printed(value: f64, expected: f64, decimals: i32) {
    let half = 0.5001 * 10f64.powi(-decimals);
    assert!(
        (value - expected).abs() <= half,
        "{value} is not {expected}"
    );
}

#[track_caller]
fn relative(value: f64, expected: f64, tolerance: f64) {
    let scale = expected.abs().max(f64::MIN_POSITIVE);
    assert!(
        (value - expected).abs() <= tolerance * scale,
        "{value} is not {expected}"
    );
}

fn observations(failures: &[f64], censored: &[f64]) -> Vec<Observation> {
    failures
        .iter()
        .map(|&v| Observation::failure(v))
        .chain(censored.iter().map(|&v| Observation::censored(v)))
        .collect()
}

/// Fracture pressures of seven frames, in atm; three more were stopped at 26.0.
const FRAME: [f64; 7] = [19.5, 20.8, 21.4, 22.0, 22.7, 23.1, 24.2];

#[test]
fn extreme_arguments_give_numbers_or_reasons() {
    use hooptrace::stats::{
        clopper_pearson, normal_quantile, sample_size, student_quantile, tolerance_one_sided,
        tolerance_two_sided, tolerance_two_sided_howe,
    };
    let probabilities = [
        5e-324,
        1e-300,
        1e-12,
        0.5,
        1.0 - 1e-12,
        1.0 - f64::EPSILON / 2.0,
    ];
    for p in probabilities {
        assert!(normal_quantile(p).is_finite(), "{p}");
        for dof in [1e-300, 1e-3, 0.5, 1.0, 1e9, 1e300] {
            if let Ok(t) = student_quantile(p, dof) {
                assert!(!t.is_nan(), "t {p} {dof}");
            }
        }
        for (x, n) in [(0, u64::MAX), (1, u64::MAX), (1, 2), (1 << 40, 1 << 41)] {
            if let Ok(limits) = clopper_pearson(x, n, p) {
                assert!(
                    limits.lower >= 0.0 && limits.upper <= 1.0 && limits.lower <= limits.upper,
                    "{x} of {n} at {p}: {limits:?}"
                );
            }
        }
        for q in probabilities {
            for n in [2, 3, 50, 1_000_000] {
                for k in [
                    tolerance_one_sided(n, p, q),
                    tolerance_two_sided(n, p, q),
                    tolerance_two_sided_howe(n, p, q),
                ] {
                    assert!(k.is_err() || k.is_ok_and(|k| !k.is_nan()), "{n} {p} {q}");
                }
            }
            for f in [0, 1, 100, 999_999_999] {
                if let Ok(n) = sample_size(p, q, f) {
                    assert!(n > f);
                }
            }
        }
    }
}
