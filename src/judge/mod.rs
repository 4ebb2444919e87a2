//! What came of each run, and what the runs of a study say together.
//!
//! | question | call |
//! |---|---|
//! | what came of this run | [`judge_run`] |
//! | which runs form an arm, and what strength does each show | [`samples`] |
//! | what do the runs of an arm say | [`groups`] |
//! | do the arms differ | [`comparisons`] |
//! | are the criteria of a protocol met | [`load_protocol`], [`verdicts`] |

mod comparisons;
mod groups;
mod key;
mod outcome;
mod protocol;
mod rules;
mod sample;
mod strength;
mod words;

pub use comparisons::comparisons;
pub use groups::groups;
pub use outcome::{FrameState, Judged, judge_run};
pub use protocol::{Criterion, Protocol, load_protocol, protocol_from_text, verdicts};
pub use rules::{Asked, Judgement, Key, Kind, RULES, Rule, Setting};
pub use sample::{Sample, samples};
