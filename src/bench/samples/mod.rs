//! The plans of the committed sample studies: an invented laboratory with invented balloons and frames.

mod first_look;
mod harbour_ring;
pub mod parts;

use super::Plan;

/// Every sample study, in the order in which they are listed.
pub fn sample_plans() -> Vec<Plan> {
    vec![first_look::plan(), harbour_ring::plan()]
}
