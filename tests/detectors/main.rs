//! Detectors: their contract, their behaviour on made-up runs with truth, and a survey of errors on the simulated bench.
#![allow(
    clippy::unused_self,
    clippy::needless_pass_by_value,
    reason = "builders read best as methods that take over their parts"
)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod contract;
mod staircase;
mod survey;
