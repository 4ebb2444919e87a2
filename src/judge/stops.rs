//! Where runs stop: what a bench would have recorded of other frames.

use crate::stats::IntervalObservation;

/// What a bench would have recorded of other frames: each stopped where the run in its place was, and steps where steps were.
///
/// How high a run would have gone that ended in a fracture is not known; it is taken to the highest pressure at which any run was stopped,
/// or without end where none was stopped above it.
pub(super) struct Stops {
    limits: Vec<f64>,
    /// Ends of steps in rising order; empty where strengths are known by value.
    steps: Vec<f64>,
}

impl Stops {
    /// Those of strengths that were seen.
    pub fn of(ranges: &[IntervalObservation]) -> Self {
        let stopped = ranges.iter().filter(|o| o.up_to == f64::INFINITY);
        let highest = stopped.map(|o| o.above).fold(f64::NEG_INFINITY, f64::max);
        let limits = ranges
            .iter()
            .map(|o| match o.up_to {
                f64::INFINITY => o.above,
                up_to if up_to <= highest => highest,
                _ => f64::INFINITY,
            })
            .collect();
        let by_step = ranges.iter().any(IntervalObservation::is_step);
        let mut steps: Vec<f64> = Vec::new();
        if by_step {
            let ends = ranges.iter().flat_map(|o| [o.above, o.up_to]);
            steps.extend(ends.filter(|end| end.is_finite()));
            steps.sort_by(f64::total_cmp);
            steps.dedup();
        }
        Self { limits, steps }
    }

    /// What would have been seen of a strength in the place of one of them.
    pub fn seen(&self, i: usize, strength: f64) -> IntervalObservation {
        let limit = self.limits.get(i).copied().unwrap_or(f64::INFINITY);
        if strength > limit {
            return IntervalObservation::censored(limit);
        }
        if self.steps.is_empty() {
            return IntervalObservation::failure(strength);
        }
        let at = self.steps.partition_point(|end| *end < strength);
        let above = at.checked_sub(1).and_then(|below| self.steps.get(below));
        match (above, self.steps.get(at)) {
            (above, Some(up_to)) => {
                IntervalObservation::between(above.copied().unwrap_or(f64::NEG_INFINITY), *up_to)
            }
            (Some(above), None) => IntervalObservation::censored(*above),
            (None, None) => IntervalObservation::failure(strength),
        }
    }
}
