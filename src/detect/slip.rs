//! Slip: a slower partial fall; the balloon moved in the frame.

use super::evidence::Kind;
use super::fracture::event;
use super::{Context, Detector};
use crate::recording::{Event, EventKind};

/// See the module.
pub(super) struct Slip;

impl Detector for Slip {
    fn name(&self) -> &'static str {
        "slip"
    }

    fn looks_for(&self) -> &'static str {
        "a partial fall that takes longer than a snap; the frame is unchanged afterwards"
    }

    fn find(&self, context: &Context<'_>) -> Vec<Event> {
        context
            .likeliest(Kind::Slip)
            .map(|(fall, weighed)| event(context, fall, weighed, EventKind::Slip))
            .collect()
    }
}
