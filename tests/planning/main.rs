//! Plans made before the runs, and two analyses beside each other.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod attribute;
mod comparing;
#[path = "../shared/folder.rs"]
mod folder;
mod power;
mod steps;
mod support;
mod variable;
