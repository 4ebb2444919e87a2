//! Detectors: their contract, their behaviour on made-up runs with truth, and a survey of errors on the simulated bench.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod contract;
mod staircase;
mod survey;
