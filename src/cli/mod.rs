//! The commands of the program: what was typed and what it means. Text is made here; only `main` prints it.

pub mod analyse;
pub mod args;
pub mod check;
mod columns;
pub mod compare;
pub mod inspect;
pub mod messages;
pub mod plan;
pub mod plan_args;
mod plan_words;
mod propose;
pub mod prove;
pub mod settings;

use crate::recording::Finding;

pub use inspect::{Inspection, inspect};

/// A report as JSON, with a line end.
fn to_json(report: &impl serde::Serialize) -> Result<String, Vec<Finding>> {
    serde_json::to_string_pretty(report)
        .map(|text| text + "\n")
        .map_err(|error| vec![Finding::error("cannot-write-out", error.to_string())])
}
