//! Calibrating by itself: every doubt about the samples of a recording, injected into made-up runs and found with its place and
//! number; and the near misses, of which nothing may be said.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
// Builders of the staircase read best as methods that take over their parts.
#![allow(
    clippy::unused_self,
    clippy::needless_pass_by_value,
    clippy::single_match_else
)]

mod clock;
mod contract;
mod declared;
mod limits;
mod near_misses;
mod samples;
#[path = "../detectors/staircase.rs"]
mod staircase;
mod support;
