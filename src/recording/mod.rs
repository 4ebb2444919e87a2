//! The plain data handed from stage to stage. Nothing here computes; every field states its unit.

mod agreement;
mod analysis;
mod balloon;
mod curve;
mod diameters;
mod event;
mod extent;
mod finding;
mod flow;
mod frame;
mod group;
mod grouping;
mod listed;
mod numbering;
mod observation;
mod phase;
mod photograph;
mod raw;
mod readings;
mod recorded;
mod run;
mod series;
mod study;
mod trace;
mod trials;
mod verdict;

pub use agreement::*;
pub use analysis::*;
pub use balloon::*;
pub use curve::Curve;
pub use diameters::*;
pub use event::{
    Contribution, Event, EventKind, Grade, Odds, PressureByDefinition, PressureDefinition,
};
pub use extent::Extent;
pub use finding::{Finding, Place, Severity, edit_distance, suggest};
pub use flow::*;
pub use frame::{FrameResult, RelaxationResult, TimeConstant};
pub use group::*;
pub use grouping::{GROUPINGS, GroupBy, GroupColumn, Grouping, Setup};
pub use listed::{Listed, ListedCell, ListedRow, ListedTable};
pub use numbering::Numbering;
pub use observation::*;
pub use phase::{Phase, PhaseEnds, PhaseKind};
pub use photograph::*;
pub use raw::{RawChannel, RawRecording, ReadSummary};
pub use readings::Readings;
pub use recorded::*;
pub use run::*;
pub use series::*;
pub use study::*;
pub use trace::{LineResistance, Trace};
pub(crate) use trace::{highest, mean};
pub use trials::{ByTrials, DIFFER_SHARE};
pub use verdict::*;
