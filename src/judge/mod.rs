//! What came of each run, and what the runs of a study say together.

mod outcome;

pub use outcome::{FrameState, Judged, judge_run};
