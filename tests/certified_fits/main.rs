//! Fits against certified and published values: NIST Statistical Reference Datasets (linear and nonlinear), Bates & Watts, Ritz & Streibig,
//! Sen, York, ODRPACK. The number of correct digits is the log relative error of NIST, `-log10(|q - c| / |c|)`, or `-log10 |q|` where the certified value is 0.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::excessive_precision,
    clippy::unreadable_literal
)]

mod intervals;
mod models;
mod monotone;
mod nist_linear;
mod nist_nonlinear;
mod published;
mod robust_and_both;

use std::fs;
use std::path::{Path, PathBuf};

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
