//! Staircase tests: mean and scatter of a threshold (Dixon & Mood 1948, JASA 43:109).

use super::error::StatsError;

/// Which outcome was counted, the one seen less often.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// Failures at each level.
    Failures,
    /// Passes at each level.
    Passes,
}

/// Result of a staircase test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UpAndDown {
    /// Mean threshold, in the unit of the levels.
    pub mean: f64,
    /// Standard deviation of the threshold; `None` where the formula does not hold (fewer levels visited than it needs:
    /// `(N B - A²)/N² <= 0.3`).
    pub sd: Option<f64>,
    /// `(N B - A²)/N²`, by which the formula for `sd` is judged.
    pub ratio: f64,
    /// Number of counted outcomes.
    pub n: usize,
}

/// Evaluates a staircase of equal `step` from the counts of the less frequent outcome, `counts[i]` at the level `lowest + i step`.
///
/// Valid only if every unit was used once (a frame that has been loaded is no longer the frame it was) and if the step is between half
/// and twice the standard deviation.
pub fn up_and_down(
    lowest: f64,
    step: f64,
    counts: &[u32],
    counted: Counted,
) -> Result<UpAndDown, StatsError> {
    /// The formula for the standard deviation holds above this ratio only.
    const LEAST_RATIO: f64 = 0.3;
    if !(lowest.is_finite() && step.is_finite() && step > 0.0) {
        return Err(StatsError::OutOfRange {
            what: "the step",
            range: "finite and greater than zero, from a finite level",
            found: step,
        });
    }
    let (mut n, mut a, mut b) = (0.0, 0.0, 0.0);
    for (i, &count) in counts.iter().enumerate() {
        let (i, count) = (i as f64, f64::from(count));
        n += count;
        a += i * count;
        b += i * i * count;
    }
    if n < 1.0 {
        return Err(StatsError::TooFew {
            what: "counted outcomes",
            needed: 1,
            found: 0,
        });
    }
    let half = match counted {
        Counted::Failures => -0.5,
        Counted::Passes => 0.5,
    };
    let ratio = (n * b - a * a) / (n * n);
    Ok(UpAndDown {
        mean: lowest + step * (a / n + half),
        sd: (ratio > LEAST_RATIO).then_some(1.62 * step * (ratio + 0.029)),
        ratio,
        n: n as usize,
    })
}
