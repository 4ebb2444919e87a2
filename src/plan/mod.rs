//! Before the runs: how many it takes, how often a protocol will be met, and which pressures to step through.
//!
//! | question | call |
//! |---|---|
//! | how many runs, some of which may fail, show a reliability | [`attribute()`] |
//! | how many values until mean and scatter show a limit is kept | [`variable()`] |
//! | how often a protocol passes on the simulated bench | [`power()`] |
//! | which pressures to go through with a balloon in a frame | [`steps()`] |
//!
//! Every plan carries what it assumes, to be printed with it.

mod attribute;
mod earlier;
mod free;
mod power;
mod seen;
mod steps;
mod variable;

use crate::recording::Finding;

pub use attribute::{Attribute, AttributeRow, MOST_FAILURES, attribute};
pub use power::{Counted, Criterion, MOST_RUNS, Power, PowerOrder, power};
pub use seen::{GroupSeen, Quantile};
pub use steps::{Bore, Step, Steps, StepsOrder, WaistSeen, steps};
pub use variable::{FEWEST_VALUES, Limits, PowerPoint, Variable, VariableOrder, variable};

/// A fault of what was asked for.
fn refused(code: &str, message: String, help: &str) -> Finding {
    Finding::error(code, message).help(help)
}
