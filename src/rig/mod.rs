//! How recordings of a bench look and what they are worth: the rig file, the study file and the settable thresholds.

mod description;
mod settings;

pub use description::*;
pub use settings::Settings;
