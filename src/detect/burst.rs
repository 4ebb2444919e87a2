//! Burst: the pressure falls to about zero and strokes do nothing.

use super::evidence::Kind;
use super::fracture::event;
use super::{Context, Detector};
use crate::recording::{Event, EventKind};

/// See the module.
pub(super) struct Burst;

impl Detector for Burst {
    fn name(&self) -> &'static str {
        "burst"
    }

    fn looks_for(&self) -> &'static str {
        "a fall of pressure to about zero that no stroke rebuilds"
    }

    fn find(&self, context: &Context<'_>) -> Vec<Event> {
        context
            .likeliest(Kind::Burst)
            .take(1)
            .map(|(fall, weighed)| event(context, fall, weighed, EventKind::Burst))
            .collect()
    }
}
