//! Measures.

pub mod caliper;
pub mod geometry;
mod orientation;
pub mod plug;
pub mod section;
