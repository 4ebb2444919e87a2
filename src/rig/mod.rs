//! How recordings of a bench look and what they are worth: the rig file, the study file and the settable thresholds.

// A finding is large, and an error is rare: a box around each would only blur the code.
#![allow(clippy::result_large_err)]

mod channel;
mod clock;
mod description;
mod dialect;
pub(crate) mod document;
mod flow;
mod load;
mod patient;
mod recording;
mod report_items;
mod series;
pub mod settings;
mod study_file;

pub(crate) use channel::dimensions;
pub use description::*;
pub use flow::FlowSpec;
pub use load::{load_rig, rig_from_text};
pub use patient::{BodySurface, HypotheticalPatient};
pub use recording::{RecordingSpec, SyncKind, SyncSpec, TRACE_COLUMN};
pub use report_items::{REPORT_ITEMS, ReportItem};
pub use series::{DoseColumn, Series, Staircase};
pub use settings::Settings;
pub use study_file::{StudyFile, inside, load_study, no_rig, study_from_text};
