//! Rig files, study files and study tables: every fault with file, line and column, and the numbers in bench units.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod observations;
mod rig_faults;
mod rigs;
mod settings;
mod study_file;
mod support;
mod table_faults;
mod tables;
