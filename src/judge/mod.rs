//! What came of each run, and what the runs of a study say together.
//!
//! | question | call |
//! |---|---|
//! | what came of this run | [`judge_run`] |
//! | which runs form a group, and what strength does each show | [`samples`] |
//! | what do the runs of a group say | [`group`], of all groups [`groups`] |
//! | what differs within a group and should not | [`mixed_groups`] |
//! | do the groups differ | [`comparisons`] |
//! | how do methods of measuring agree | [`agreements`] |
//! | what do operators and repeats add to the scatter | [`gauge_studies`] |
//! | what rated burst pressure do burst tests allow | [`rated_bursts`] |
//! | are the criteria of a protocol met | [`load_protocol`], [`verdicts`] |

mod agreement;
mod comparisons;
mod dose;
mod families;
mod gauge;
mod groups;
mod key;
mod mixed;
mod observations;
mod outcome;
mod protocol;
mod rated_burst;
mod rounds;
mod rules;
mod sample;
mod strength;
mod survival;
mod values;
mod words;

pub use agreement::{METHOD_PAIRS, agreement_of_pair, agreements};
pub use comparisons::comparisons;
pub use gauge::gauge_studies;
pub use groups::{group, groups, mixed_groups};
pub use outcome::{FrameState, Judged, judge_run};
pub use protocol::{Criterion, Protocol, load_protocol, protocol_from_text, verdicts};
pub use rated_burst::rated_bursts;
pub use rules::{Asked, Judgement, Key, Kind, RULES, Rule, Setting};
pub use sample::{Sample, samples};
