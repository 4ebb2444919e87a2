//! A simulated bench: the physics the analysis rests on, run forwards, with its truth written beside.
//!
//! A [`Plan`] says what is built and what the operator does; what comes of it is decided by the physics. The balance of volume
//! (`injected − lost = line(p) + balloon(p, D)`) gives the pressure, the ring's force law the diameter, and a recorder with its
//! faults the file. Every random number comes from a seeded stream of its own purpose and run: adding a run changes no other.
//!
//! The analysis never reads this module; it serves samples and tests.

pub mod balloon;
pub mod dialect;
mod drawn;
pub mod frame;
pub mod gauge;
pub mod hole;
pub mod inspect;
pub mod line;
pub mod operator;
mod plan;
pub mod pulse;
pub mod recorder;
mod rig_file;
pub mod run;
pub mod samples;
pub mod scenario;
pub mod solver;
mod study;
mod tables;
pub mod truth;

pub use drawn::LOWEST_KPA;
pub use plan::{BalloonPlan, FramePlan, InspectionNote, Plan, RunPlan};
pub use samples::sample_plans;
pub use scenario::{SCENARIOS, Scenario};
pub use study::{write_study, write_with_truth};
pub use truth::Truth;
