//! Results as files: JSON, flat tables, and the one place that writes an output folder.

mod events;
mod flat;
mod folder;
mod json;
mod observations;
mod runs;

pub use events::events_csv;
pub use folder::{Output, WriteError, write_folder};
pub use json::results_json;
pub use observations::observations_csv;
pub use runs::runs_csv;
