//! Several recordings of one run on several clocks.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "../shared/folder.rs"]
mod folder;
mod made_up;
mod markers;
mod offsets;
mod placing;
mod rig_tables;
mod samples;
mod whole;
