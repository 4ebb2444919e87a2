//! One recording written in many dialects must read as the same numbers, and no broken file may do worse than a finding.
//!
//! The numbers compared with are the ones the writers of these files put in, never numbers of the reader.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![allow(
    clippy::format_collect,
    clippy::format_push_string,
    clippy::single_match_else,
    clippy::needless_lifetimes
)]

mod clocks;
mod columns;
mod dialects;
mod fast_against_judge;
mod formats;
mod fuzzed;
mod header_blocks;
mod inspecting;
mod json;
mod judge;
mod packed;
mod refusals;
mod rows;
mod sections;
mod sheets;
mod support;
mod verdict;
