//! Detectors: their contract, and their behaviour on made-up runs with truth.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
// Builders read best as methods that take over their parts; both arms of a pairing are said out.
#![allow(
    clippy::unused_self,
    clippy::needless_pass_by_value,
    clippy::single_match_else
)]

mod contract;
mod settings;
mod staircase;
