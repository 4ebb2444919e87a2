//! The plain data handed from stage to stage. Nothing here computes; every field states its unit.

mod analysis;
mod event;
mod extent;
mod finding;
mod numbering;
mod phase;
mod photograph;
mod raw;
mod readings;
mod study;
mod trace;

pub use analysis::*;
pub use event::{
    Contribution, Event, EventKind, Grade, Odds, PressureByDefinition, PressureDefinition,
};
pub use extent::Extent;
pub use finding::{Finding, Place, Severity, edit_distance, suggest};
pub use numbering::Numbering;
pub use phase::{Phase, PhaseKind};
pub use photograph::*;
pub use raw::{RawChannel, RawRecording, ReadSummary};
pub use readings::Readings;
pub use study::*;
pub use trace::Trace;
pub(crate) use trace::highest;
