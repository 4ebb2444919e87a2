//! The commands of the program: what was typed and what it means. Text is made here; only `main` prints it.

pub mod analyse;
pub mod args;
pub mod check;
pub mod inspect;
pub mod messages;
mod propose;
pub mod prove;
pub mod settings;

pub use inspect::{Inspection, inspect};
