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
//! | did a run keep the steps of a protocol | [`keep_steps`], [`group_adherence`] |
//! | are the criteria of a protocol met | [`load_protocol`], [`verdicts`] |

mod adherence;
mod agreement;
mod comparisons;
mod contradictions;
mod decision;
mod dose;
mod families;
mod gauge;
mod groups;
mod key;
mod limit;
mod mixed;
mod observations;
mod outcome;
mod planned;
mod protocol;
mod quantity;
mod rated_burst;
mod rounds;
mod rules;
mod sample;
mod stated_line;
mod steps;
mod stops;
mod strength;
mod survival;
mod unseen;
mod values;
mod words;

pub use adherence::{group_adherence, keep_steps};
pub use agreement::{METHOD_PAIRS, agreement_of_pair, agreements};
pub use comparisons::comparisons;
pub use decision::{Decision, GUARD_FACTOR};
pub use gauge::gauge_studies;
pub use groups::{group, groups, mixed_groups};
pub use limit::{Bound, Limit, Side};
pub use mixed::PlaceOf;
pub use outcome::{FrameState, Judged, judge_run};
pub use protocol::{AskedStep, Criterion, Protocol, load_protocol, protocol_from_text, verdicts};
pub use quantity::Target;
pub use rated_burst::rated_bursts;
pub use rules::{Asked, Judgement, Key, Kind, RULES, Rule, Setting};
pub use sample::{Sample, samples};
pub use steps::{Found, STEPS, Step};
pub use unseen::{unseen_arms, unseen_observations};
pub use words::percent_to;
