//! Photographs of the opening: thresholds and contours against published code, made-up pictures against their truth, studies with
//! pictures from end to end.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::cast_possible_wrap
)]

mod certified;
mod coverage;
mod openings;
mod scene;
mod study;
